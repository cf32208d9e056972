module wreath

go 1.26.0

toolchain go1.27.3

require (
	gonum.org/v1/gonum v0.17.0 // indirect
	pgregory.net/rapid v1.3.0
)
