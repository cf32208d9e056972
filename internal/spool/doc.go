// Package spool hands documents to printers: a device of this machine, a printer on the network that
// takes bytes, or a queue of the system's own printing by IPP. It says in words why a printer takes
// nothing, how far a document came before it broke off, and what can't be known: most ways to a printer
// give no proof of paper.
//
// A Spooler works off the queue. The queue itself stands in the log of the shop, behind the interface
// Queue, and so outlives every crash. A document is sent again only while nothing of it was sent.
package spool
