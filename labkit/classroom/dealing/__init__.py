"""From the class's secret to everybody's workbook, and the record of what was dealt."""
