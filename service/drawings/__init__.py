"""SVG drawings, the same on screen and paper."""
