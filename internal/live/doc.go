// Package live follows the instruments of the program while they speak.
//
// A Feed is one instrument's chain: a source.Source brings bytes, a line.Framer cuts lines, a
// line.Pattern reads values, and package settle says when they are at rest. A Hub holds the feeds.
//
// Both tell how things stand now (Snapshot) and what happens (Subscribe). A subscriber that is slow
// loses single values and nothing else, and it never holds up a feed.
//
// A feed keeps the bytes of its last seconds, at most 64 KB, so that what was heard before a reading can be
// kept beside it (Evidence). A line that was cut by an unplugging, or one in whose middle
// the port was opened, is counted and never read.
//
// A Binding ties the instrument to its port by a check weight. After every connection the feed
// is unproved until the check weight was seen or a person has confirmed it, because cables get swapped.
package live
