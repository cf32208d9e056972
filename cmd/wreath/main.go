// Wreath turns weighings in air and in a liquid into a density, a fineness and a finding.
package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"

	"github.com/alecthomas/kong"

	"wreath/internal/strictjson"
	"wreath/quantity"
)

// version is set when a release is built: -ldflags "-X main.version=1.2.3".
var version = "0.1.0-dev"

// Exit codes, documented in doc/design.md.
const (
	exitFine   = 0
	exitFailed = 1 // the work was done but some of it failed
	exitUsage  = 2 // bad usage or bad input; nothing was done
	// Of commands on records:
	exitMissing  = 3  // what was named is not there
	exitConflict = 4  // somebody else changed it meanwhile, or the mark was used for something else
	exitRefused  = 5  // who asks may not do it, or a hold forbids it
	exitBroken   = 6  // what is kept is not what it was
	exitLater    = 9  // it can be tried again: wait, or look the act up by its mark
	exitStorage  = 10 // the storage is full or fails
)

// commands is the command line. Each command is one file, thin over the packages below it.
type commands struct {
	Determine     determineCmd     `cmd:"" help:"From the readings of one item to its density, fineness and finding."`
	Batch         batchCmd         `cmd:"" help:"The same for many items, one a row, in order."`
	Plan          planCmd          `cmd:"" help:"What a station can decide about an item, before it is wet."`
	Fineness      finenessCmd      `cmd:"" help:"From a density to the fineness in an alloy family."`
	Alloy         alloyCmd         `cmd:"" help:"From a recipe to its density."`
	Liquid        liquidCmd        `cmd:"" help:"Density of an immersion liquid."`
	Air           airCmd           `cmd:"" help:"Density of the air."`
	Materials     materialsCmd     `cmd:"" help:"The tables behind the numbers, with their sources."`
	Record        recordCmd        `cmd:"" group:"records" help:"Evaluate a determination and keep it for good."`
	Serve         serveCmd         `cmd:"" group:"records" help:"Serve the pages of the bench."`
	Show          showCmd          `cmd:"" group:"records" help:"One record, with its readings, signatures and history."`
	Find          findCmd          `cmd:"" group:"records" help:"Search the records."`
	Sheet         sheetCmd         `cmd:"" group:"records" help:"A determination under way, reading by reading."`
	Correct       correctCmd       `cmd:"" group:"records" help:"Put a new record in the place of a wrong one."`
	Compare       compareCmd       `cmd:"" group:"records" help:"What a correction changed."`
	Sign          signCmd          `cmd:"" group:"records" help:"Sign a record."`
	Again         againCmd         `cmd:"" group:"records" help:"Evaluate a record again and compare."`
	Shop          shopCmd          `cmd:"" group:"records" help:"Open a shop with its records."`
	Station       stationCmd       `cmd:"" group:"records" help:"Places where items are weighed."`
	Instrument    instrumentCmd    `cmd:"" group:"records" help:"Balances, thermometers, check pieces, and their certificates."`
	Item          itemCmd          `cmd:"" group:"records" help:"Items: what came over the counter, where it lies, what holds it."`
	Customer      customerCmd      `cmd:"" group:"records" help:"Customers' data, kept apart from the log and erasable."`
	Deal          dealCmd          `cmd:"" group:"records" help:"The register of deals."`
	Rules         rulesCmd         `cmd:"" group:"records" help:"The rules of the register."`
	Price         priceCmd         `cmd:"" group:"records" help:"Prices of fine metals."`
	Terms         termsCmd         `cmd:"" group:"records" help:"What the house pays."`
	Value         valueCmd         `cmd:"" group:"records" help:"Put a value on a record, by the newest price and the terms of the house."`
	Lot           lotCmd           `cmd:"" group:"records" help:"Value several records together, every metal apart."`
	Lots          lotsCmd          `cmd:"" group:"records" help:"The lots that were made."`
	Verify        verifyCmd        `cmd:"" group:"records" help:"Verify a store, a backup, a bundle of evidence, an exported log or a proof."`
	Proof         proofCmd         `cmd:"" group:"records" help:"The signed proof of a record, as text, bytes, credential or QR code."`
	StatusList    statusListCmd    `cmd:"" group:"records" help:"The signed list of what became of records."`
	Slip          slipCmd          `cmd:"" group:"records" help:"A slip for narrow paper: text, PDF or a page to print."`
	Label         labelCmd         `cmd:"" group:"records" help:"Labels of trays, bags and instruments."`
	Report        reportCmd        `cmd:"" group:"records" help:"The report of a record as PDF, and its issue."`
	Print         printCmd         `cmd:"" group:"records" help:"Print a report, a slip or a label."`
	Printer       printerCmd       `cmd:"" group:"records" help:"Printers, and what they take."`
	Queue         queueCmd         `cmd:"" group:"records" help:"What waits to be printed, and what broke off."`
	Checkpoint    checkpointCmd    `cmd:"" group:"records" help:"Sign a checkpoint of the log, and list those that are kept."`
	Signing       keyCmd           `cmd:"" name:"key" group:"records" help:"The shop's signing key: show, copy, protect, change, replace."`
	Prove         proveCmd         `cmd:"" group:"records" help:"Prove that the log only grew."`
	Evidence      evidenceCmd      `cmd:"" group:"records" help:"A bundle that others can check without the store."`
	Export        exportCmd        `cmd:"" group:"records" help:"The whole log as a file."`
	Table         tableCmd         `cmd:"" group:"records" help:"Day book, items, lots, register and histories for spreadsheets and programs."`
	Import        importCmd        `cmd:"" group:"records" help:"Enter what others wrote down, such as a list of bars."`
	Witness       witnessCmd       `cmd:"" group:"records" help:"Keep the checkpoint of a branch."`
	Backup        backupCmd        `cmd:"" group:"records" help:"A copy of the store in use, tried before it counts."`
	Restore       restoreCmd       `cmd:"" group:"records" help:"Make the store anew from a backup."`
	Move          moveCmd          `cmd:"" group:"records" help:"Take the records to another database."`
	Rebuild       rebuildCmd       `cmd:"" group:"records" help:"Compute what is shown anew from the log."`
	Person        personCmd        `cmd:"" group:"records" help:"Who works here, and what each may do."`
	Roles         rolesCmd         `cmd:"" group:"records" help:"Which role may do what."`
	SignIn        signInCmd        `cmd:"" group:"records" help:"Sign in with name and password, or with a PIN."`
	SignOut       signOutCmd       `cmd:"" group:"records" help:"Sign out."`
	Password      passwordCmd      `cmd:"" group:"records" help:"Set one's own password."`
	NewPassword   newPasswordCmd   `cmd:"" group:"records" help:"Set a password with a code."`
	RecoveryCodes recoveryCodesCmd `cmd:"" group:"records" help:"Ten codes for whoever forgets the password."`
	PIN           pinCmd           `cmd:"" name:"pin" group:"records" help:"Set a PIN at an enrolled device."`
	Device        deviceCmd        `cmd:"" group:"records" help:"Counters at which PINs may be used."`
	Token         tokenCmd         `cmd:"" group:"records" help:"Let a program in."`
	FourEyes      fourEyesCmd      `cmd:"" group:"records" help:"When a second person must witness."`
	Schema        schemaCmd        `cmd:"" help:"JSON Schema of the documents that determine reads and writes."`
	Completion    completionCmd    `cmd:"" help:"Completion for a shell."`
	Version       versionCmd       `cmd:"" help:"Version of the program and of its tables."`
}

// streams are what a command reads and writes.
type streams struct {
	In       io.Reader
	Out, Err io.Writer

	lines *bufio.Scanner // of In, once somebody read a line
}

// failure ends a command with an exit code, a reason and a way out.
type failure struct {
	Code         int
	Reason, Hint string
}

func (f *failure) Error() string { return f.Reason }

func main() { os.Exit(run(os.Args[1:], streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr})) }

// run is the program without the process around it.
func run(args []string, s streams) (code int) {
	// kong ends help and usage errors through Exit; ended carries that out of Parse.
	type ended struct{ code int }
	defer func() {
		if r := recover(); r != nil {
			e, ok := r.(ended)
			if !ok {
				panic(r)
			}
			code = e.code
		}
	}()
	var c commands
	parser, err := kong.New(&c,
		kong.Name("wreath"),
		kong.Description("Weigh an item in air and in a liquid; learn what it is, how fine, and how sure that is.\n\n"+
			"A density determination is no hallmark and no assay; density can't see tungsten in gold."),
		kong.Writers(s.Out, s.Err),
		kong.Exit(func(code int) { panic(ended{code}) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
		kong.UsageOnError(),
		kong.Bind(&s),
	)
	if err != nil {
		panic(err) // the command line above is wrong, not the user
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if err != nil {
		hint := "See wreath --help, or wreath COMMAND --help for examples."
		var number *quantity.NumberError
		var typed *failure
		switch {
		case errors.As(err, &number):
			hint = number.Hint
		case errors.As(err, &typed) && typed.Hint != "":
			hint = typed.Hint
		case negative(args) != "":
			err = fmt.Errorf("%s stands where a flag could stand", negative(args))
			hint = "An amount is never negative: leave the minus out. Where a number may be, write it with an equals sign: --flag=" + negative(args) + "."
		}
		return complain(s.Err, &failure{exitUsage, err.Error(), hint})
	}
	if err := k.Run(parser); err != nil {
		return complain(s.Err, err)
	}
	return exitFine
}

// negative finds a negative number among the arguments: to the parser it looks like a flag.
func negative(args []string) string {
	for _, a := range args {
		if _, err := strconv.ParseFloat(a, 64); err == nil && a[0] == '-' {
			return a
		}
	}
	return ""
}

// complain prints an error in its two lines and returns the exit code.
func complain(w io.Writer, err error) int {
	var f *failure
	var field *strictjson.FieldError
	switch {
	case errors.As(err, &f):
	case errors.As(err, &field):
		f = &failure{exitUsage, field.Error(), field.Hint}
	case plain(err) != nil:
		f = plain(err)
	default:
		f = &failure{exitFailed, err.Error(), "If this repeats, keep the input and report it."}
	}
	fmt.Fprintf(w, "wreath: error: %s\n", f.Reason)
	if f.Hint != "" {
		fmt.Fprintf(w, "wreath: hint: %s\n", f.Hint)
	}
	return f.Code
}
