"""`python -m gateway` is `bp-gateway`."""

from gateway.cli import main

if __name__ == "__main__":
    main()
