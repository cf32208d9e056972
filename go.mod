module wreath

go 1.26.0

toolchain go1.27.3

require pgregory.net/rapid v1.3.0

require (
	github.com/alecthomas/kong v1.17.0 // indirect
	github.com/rogpeppe/go-internal v1.16.0 // indirect
	gonum.org/v1/gonum v0.17.0
)
