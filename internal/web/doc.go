// Package web serves the pages of the desk and the same documents as JSON.
//
// Pages are made on the server and can be read, and worked with, without script. Two small modules of our
// own make them quicker: one sends a form and puts the answer in place, one listens for changes that
// somebody else made. Nothing is fetched from anywhere else; the content-security policy forbids it.
package web
