package people

import "net/netip"

// Console is the source of acts on the command line of the machine that holds the records.
const Console = "console"

// CheckLocal tells whether the desk may be used without signing in: only by the one person who
// works here, and only from the command line or from the machine itself. source is Console or the
// address of the other end of the connection, with or without port. Behind a proxy every
// connection looks local; whoever listens for one must not call this.
func CheckLocal(source string, all []Person) error {
	if !local(source) {
		return &SignInError{"without signing in the desk can be used only at the machine itself", "Sign in with your password."}
	}
	n := 0
	for _, p := range all {
		if !p.Ended { // someone who begins tomorrow counts already
			n++
		}
	}
	switch n {
	case 0:
		return &SignInError{"nobody works here yet", "Set the desk up first, with the code that the console shows."}
	case 1:
		return nil
	}
	return &SignInError{"several people work here, so each has to sign in", "Sign in with your password."}
}

// IsLocal tells whether a source is the command line or the machine itself.
func IsLocal(source string) bool { return local(source) }

func local(source string) bool {
	if source == Console {
		return true
	}
	if ap, err := netip.ParseAddrPort(source); err == nil {
		return ap.Addr().IsLoopback()
	}
	a, err := netip.ParseAddr(source)
	return err == nil && a.IsLoopback()
}
