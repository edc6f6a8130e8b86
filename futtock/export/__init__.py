"""What leaves for other hands: workbook, glTF, STEP."""
