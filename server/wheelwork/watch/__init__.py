"""What a running server tells those who keep it: a line for each request, and figures."""
