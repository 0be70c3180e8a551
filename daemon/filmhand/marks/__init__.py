"""What is printed on the film beside the copies: labels, the sheet's header, registration marks, trim frames."""
