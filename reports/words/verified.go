package words

// What a check of a summary's file can and cannot show.
const (
	DigestMeaning = "The digest shows damage, and changes by a program that knows nothing of it. It is no signature: who knows how it is made can change the file and reckon it anew."
	AgainMeaning  = "Made again from the inputs, this version writes the same bytes: what the summary says is what it works out from them."
	AgainUnlike   = "Another kind of machine can work out other last digits; else the file was changed after it was written, and its digest reckoned anew."
	NotCompared   = "No inputs were named, so what the file says of them was compared with nothing; name them with --study and --results, or --ledger."
)
