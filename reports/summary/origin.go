package summary

import (
	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
)

// ReadOrigin reads what a summary says of itself, whatever the file is. It is kept
// in the file as its record; see pdf.ReadRecord for what the digest beside it shows.
func ReadOrigin(file []byte) (dossier.Origin, pdf.Record, error) {
	r, err := pdf.ReadRecord(file)
	if err != nil {
		return dossier.Origin{}, r, err
	}
	o, err := dossier.OriginOf(r.Text)
	return o, r, err
}
