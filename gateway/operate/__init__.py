"""What running the service needs beside its work: logs that name nobody."""
