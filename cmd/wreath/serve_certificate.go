package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// Files of the authority, in the folder of the shop's keys.
const (
	authorityFile = "local-authority.pem"
	serverFile    = "local-server.pem"
)

// How long certificates hold; chosen here. Browsers take none of a server for longer than 398 days.
const (
	authorityYears = 10
	serverDays     = 397
	renewalDays    = 30 // before the end
)

// localAuthority is a certificate authority of the shop's own. It signs the certificate of one server.
type localAuthority struct {
	folder string
	hosts  []string
	now    func() time.Time

	mu     sync.Mutex
	server *tls.Certificate
}

func (a *localAuthority) file(name string) string { return filepath.Join(a.folder, name) }

// fingerprint is how a tablet shows the authority.
func (a *localAuthority) fingerprint() string {
	pair, err := readPair(a.file(authorityFile))
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(pair.Certificate[0])
	var parts []string
	for _, b := range sum {
		parts = append(parts, fmt.Sprintf("%02X", b))
	}
	return "SHA-256 " + strings.Join(parts, ":")
}

// Certificate gives the server's certificate, and makes it anew in time or for other names.
func (a *localAuthority) Certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.good(a.server, nil) {
		return a.server, nil
	}
	if err := os.MkdirAll(a.folder, 0o700); err != nil {
		return nil, err
	}
	authority, err := readPair(a.file(authorityFile))
	if errors.Is(err, fs.ErrNotExist) || err == nil && a.now().After(authority.Leaf.NotAfter.AddDate(-1, 0, -renewalDays)) {
		authority, err = a.makeAuthority()
	}
	if err != nil {
		return nil, err
	}
	server, err := readPair(a.file(serverFile))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if !a.good(server, authority) {
		if server, err = a.makeServer(authority); err != nil {
			return nil, err
		}
	}
	a.server = server
	return server, nil
}

// names are all under which the pages are served, sorted.
func (a *localAuthority) names() []string {
	names := append([]string{"localhost", "127.0.0.1", "::1"}, a.hosts...)
	slices.Sort(names)
	return slices.Compact(names)
}

// good says whether a certificate still serves.
func (a *localAuthority) good(c, authority *tls.Certificate) bool {
	if c == nil || a.now().After(c.Leaf.NotAfter.AddDate(0, 0, -renewalDays)) {
		return false
	}
	for _, name := range a.names() {
		if c.Leaf.VerifyHostname(name) != nil {
			return false
		}
		if authority == nil {
			continue
		}
		roots := x509.NewCertPool()
		roots.AddCert(authority.Leaf)
		if _, err := c.Leaf.Verify(x509.VerifyOptions{DNSName: name, Roots: roots, CurrentTime: a.now()}); err != nil {
			return false
		}
	}
	return true
}

func (a *localAuthority) makeAuthority() (*tls.Certificate, error) {
	template := &x509.Certificate{
		Subject: pkix.Name{CommonName: "Wreath, this shop's own authority"}, NotAfter: a.now().AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
	}
	// Who steals the authority's key can speak for these names only.
	template.PermittedDNSDomainsCritical = true
	for _, name := range a.names() {
		if ip := net.ParseIP(name); ip != nil {
			bits := 8 * len(shortest(ip))
			template.PermittedIPRanges = append(template.PermittedIPRanges, &net.IPNet{IP: shortest(ip), Mask: net.CIDRMask(bits, bits)})
		} else {
			template.PermittedDNSDomains = append(template.PermittedDNSDomains, name)
		}
	}
	return a.make(authorityFile, template, nil)
}

func shortest(ip net.IP) net.IP {
	if four := ip.To4(); four != nil {
		return four
	}
	return ip
}

func (a *localAuthority) makeServer(authority *tls.Certificate) (*tls.Certificate, error) {
	template := &x509.Certificate{
		Subject: pkix.Name{CommonName: "Wreath"}, NotAfter: a.now().AddDate(0, 0, serverDays),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	for _, name := range a.names() {
		if ip := net.ParseIP(name); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, name)
		}
	}
	if _, err := a.make(serverFile, template, authority); err != nil {
		return nil, err
	}
	server, err := readPair(a.file(serverFile))
	if err == nil && !a.good(server, authority) {
		err = wrong("Remove "+a.file(authorityFile)+" to make another authority, which the tablets have to trust anew.", "the shop's authority may not speak for all of %s", strings.Join(a.names(), ", "))
	}
	return server, err
}

// make makes a key and a certificate, signed by the authority or by itself, and keeps both in one file.
func (a *localAuthority) make(name string, template *x509.Certificate, authority *tls.Certificate) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	if template.SerialNumber, err = rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120)); err != nil {
		return nil, err
	}
	template.NotBefore = a.now().Add(-time.Hour) // the clocks of tablets differ
	parent, signer := template, any(key)
	if authority != nil {
		parent, signer = authority.Leaf, authority.PrivateKey
	}
	der, err := x509.CreateCertificate(rand.Reader, template, parent, &key.PublicKey, signer)
	if err != nil {
		return nil, err
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	public := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	secret := pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private})
	// The certificate is for tablets; the key is for nobody.
	if err := os.WriteFile(a.file(name)+".key", secret, 0o600); err != nil {
		return nil, err
	}
	if err := os.WriteFile(a.file(name), public, 0o600); err != nil {
		return nil, err
	}
	return readPair(a.file(name))
}

// readPair reads a certificate with its key.
func readPair(name string) (*tls.Certificate, error) {
	if _, err := os.Stat(name); err != nil {
		return nil, err
	}
	pair, err := tls.LoadX509KeyPair(name, name+".key")
	if err != nil {
		return nil, wrong("Remove it, or put a copy back; a new one is made where there is none.", "the certificate %s can't be used: %v", name, err)
	}
	return &pair, nil
}
