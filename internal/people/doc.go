// Package people says who works at the desk, what each may do, and how a person proves who they
// are. It is pure: time and randomness are passed in, nothing is stored or sent.
//
// Terms. A role is a part a person plays (measure, sign, ...). An action is one act at the desk;
// the table Actions says which roles may do it. A factor is what a person gives to prove who they
// are: a password, a passkey, or a PIN at an enrolled device. A session is the time from that proof until
// sign-out or a limit. A sitting is the time since the last password. The generation of a person
// is a count that rises when password or roles change or the person leaves; whatever was begun
// under an older generation has ended.
//
// Sources. NIST SP 800-63B-4 (2025): 2.2.3 time limits, 3.1.1.2 passwords, 3.1.2.2 look-up
// secrets, 3.2.2 limits on failed tries, 4.2.1.1 recovery codes, 5.1 session secrets. RFC 9106:
// Argon2id. 21 CFR 11.10(d), (g), 11.50, 11.200 and 11.300: authority checks and signatures.
// Sections 2.2.3, 3.1.1.2 and 3.1.2.2 were read in the public draft of the fourth revision; 2.2.3,
// 3.1.1.2, 3.2.2 and 5.1 in quotations of the final text, which differ from the draft in asking for
// 15 characters and for NFC. Section 4.2.1.1, the RFC and the Code of Federal Regulations are from
// memory.
//
// Limits. A password alone reaches assurance level 1 of SP 800-63B-4; a passkey, or a password with a code
// from paper, level 2. Whether a passkey's maker is known is not asked. Passwords are not
// keyed with a secret kept apart from the store, which 3.1.1.2 recommends; PINs are. A clock that
// was wrong while the program was off cannot be noticed.
package people
