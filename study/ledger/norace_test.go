//go:build !race

package ledger

const racing = false
