"""bulk/ takes in what a facility already has as a table: reads CSV and XLSX, says each row's fate, writes it once."""
