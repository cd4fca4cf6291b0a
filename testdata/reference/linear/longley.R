# Writes longley.csv: R's datasets::longley on the scale NIST StRD prints it in.
# Run in this directory: Rscript longley.R
with(longley, write.csv(data.frame(
  y = round(Employed * 1000), x1 = GNP.deflator, x2 = round(GNP * 1000), x3 = round(Unemployed * 10),
  x4 = round(Armed.Forces * 10), x5 = round(Population * 1000), x6 = Year),
  "longley.csv", row.names = FALSE, quote = FALSE))
