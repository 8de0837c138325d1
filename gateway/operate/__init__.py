"""What running the service needs beside its work: signed audit heads outside the store, and logs without persons."""
