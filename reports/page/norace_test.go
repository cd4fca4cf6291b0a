//go:build !race

package page

const racing = false
