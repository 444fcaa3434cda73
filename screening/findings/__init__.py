"""What the findings say against the thresholds: checks, confidence, a row for each lot."""
