"""What screens are put together from: tables, curves, drawings, large digits."""
