// Package sentence says the program's English sentences in other languages.
//
// The program decides, and keeps what it decided, in English: a stored record, the JSON of an answer
// and a terminal show the same words, and stored words are evidence that nothing rewrites. Only who
// shows a sentence to people in another language translates it, when it is shown.
//
// A catalogue (de.json, es.json) has a line for each English text and for each format string of the
// sources, written as in the source: "%g %s cannot be right". Its translation has the same verbs, in
// the same order or numbered as in fmt (%[2]s). A sentence is recognised by its line, or put together
// of sentences and lists that are; the numbers in it get the decimal mark of the language. What is not
// recognised stays English: a name, a number of a record, what somebody typed.
package sentence
