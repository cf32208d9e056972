// Package desk is the room in which everything happens that a person does: one method for each act.
// The command line and the pages both work through it.
//
// An act is checked (may this person do it, does it fit what is there), appended to the shop's log
// as one entry, and shown in the views, all in one transaction. Views hold nothing that does not
// follow from the log, and can be computed anew from it at any time; see Rebuild. Passwords,
// sessions and personal data stand beside the log, because they must be replaceable or erasable.
//
// Every act takes a By: who does it, and the sender's own mark for it. An act that is sent again
// under the same mark is not done again; the first result comes back.
package desk
