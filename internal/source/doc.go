// Package source brings in the bytes that an instrument says, whatever they come through: a
// serial port, the network, a file that another program writes, a web request, a field of a page, or
// a recording of an earlier conversation. It knows nothing of what the bytes mean.
//
// An Address is the text that names where they come from. Open makes a Source of it, and Run
// listens until its context ends: it opens, reads, says in events what it hears and how the link
// stands, and after an unplugging it tries again by itself, later and later up to a bound.
//
// Seconds of events are counted from the start of Run on a clock that never jumps. In a playback they are
// the seconds of the recording, at whatever speed it is played.
//
// A Recorder writes every event to a file of text; see Recorder for the format.
package source
