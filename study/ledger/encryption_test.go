package ledger

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"math/big"
	"net"
	"strings"
	"testing"
	"time"
)

// greeter is a server that answers whether it speaks TLS, and then speaks no
// PostgreSQL: the request for it is 8 bytes, the answer S or N (PostgreSQL's manual,
// "SSL Session Encryption"). It gives its address.
func greeter(t *testing.T, answer byte) string {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	own := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, own, own, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { listener.Close() })
	go func() {
		for {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			var request [8]byte
			if _, err := io.ReadFull(c, request[:]); err == nil {
				_, _ = c.Write([]byte{answer})
				if answer == 'S' {
					_ = tls.Server(c, &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}).Handshake()
				}
			}
			c.Close()
		}
	}()
	return "postgres://lab:secret@" + listener.Addr().String() + "/stability"
}

// Where the address asks for encryption, a server that offers none, or whose
// certificate nobody vouches for, is refused for what it is, and so is an address
// that asks wrongly. No password is shown.
func TestEncryptionAskedFor(t *testing.T) {
	plain, selfSigned := greeter(t, 'N'), greeter(t, 'S')
	for _, c := range [][3]string{
		{plain, "sslmode=verify-full", "offers no encryption, and the address asks for it"},
		{plain, "sslmode=verify-ca", "offers no encryption, and the address asks for it"},
		{plain, "sslmode=require", "offers no encryption, and the address asks for it"},
		{selfSigned, "sslmode=verify-full", "is not trusted: x509: certificate signed by unknown authority"},
		{selfSigned, "sslmode=verify-ca", "is not trusted: x509: certificate signed by unknown authority"},
		{plain, "sslmode=verify-full&sslrootcert=/nowhere/ca.crt", "the file /nowhere/ca.crt, which the address of the ledger or its environment names, cannot be read: no such file or directory"},
		{plain, "sslmode=verify-all", "there is no sslmode=verify-all"},
	} {
		_, err := Open(context.Background(), c[0]+"?connect_timeout=5&"+c[1])
		var trouble *Trouble
		if !errors.As(err, &trouble) || !strings.Contains(trouble.Text, c[2]) || trouble.Hint == "" {
			t.Errorf("%s: %v, want %s", c[1], err, c[2])
		}
		if strings.Contains(trouble.Text+trouble.Hint, "secret") {
			t.Errorf("%s: the password is shown: %v", c[1], trouble)
		}
	}
}
