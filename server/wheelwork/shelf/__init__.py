"""What is kept: the part sheets offered, and the plans of the demo."""
