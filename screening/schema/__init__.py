"""What every room uses: columns, thresholds, kinds of improvement, ground covers, soil groups, each declared once."""
