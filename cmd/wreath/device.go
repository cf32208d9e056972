package main

import (
	"context"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
)

// deviceCmd is about counters.
type deviceCmd struct {
	Enrol  deviceEnrolCmd  `cmd:"" help:"Make a counter known, so that PINs may be used there."`
	Use    deviceUseCmd    `cmd:"" help:"Make this account of this machine the device whose secret is typed in."`
	Forget deviceForgetCmd `cmd:"" help:"This account of this machine is no device any more."`
	List   deviceListCmd   `cmd:"" help:"The devices."`
	End    deviceEndCmd    `cmd:"" help:"For a device that is lost or given away."`
}

type deviceEnrolCmd struct {
	place
	formatted
	Name   string `arg:"" help:"Name of the counter, such as \"front counter\"."`
	Shared bool   `help:"Several people use it: sessions lock after five minutes without work."`
	Here   bool   `help:"It is this account of this machine; otherwise the secret is printed, once, for wreath device use."`
}

func (deviceEnrolCmd) Help() string {
	return `Examples:

  wreath device enrol "front counter" --shared --here
  wreath device enrol "back office"`
}

// Run enrols a device.
func (c *deviceEnrolCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		secret, device, err := r.EnrolDevice(ctx, desk.By{Who: who}, c.Name, c.Shared)
		if err != nil {
			return err
		}
		if c.Here {
			if err := c.keepOwn("devices", secret); err != nil {
				return err
			}
			secret = "" // nobody needs to see it
		}
		if c.forPrograms() {
			return writeJSON(s.Out, shownOnce{device.ID, device.Name, secret})
		}
		say(s, "%s is enrolled as %s.", harmless(device.Name), device.ID)
		if c.Here {
			say(s, "Sign in again to work at it.")
			return nil
		}
		say(s, "secret  %s", secret)
		say(s, "It is shown once; type it in at the device: wreath device use")
		return nil
	})
}

// shownOnce is a secret for programs.
type shownOnce struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Secret string `json:"secret,omitempty"`
}

type deviceUseCmd struct{ place }

func (deviceUseCmd) Help() string {
	return `Examples:

  wreath device use

It asks for the secret that wreath device enrol printed.`
}

// Run keeps a device's secret.
func (c *deviceUseCmd) Run(s *streams) error {
	ctx := context.Background()
	r, err := c.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	secret, err := ask(s, "secret of the device")
	if err != nil {
		return err
	}
	if _, err := people.DeviceKey(secret); err != nil {
		return wrong("Copy it whole, as it was printed when the device was enrolled.", "this is no secret of a device")
	}
	if err := c.keepOwn("devices", secret); err != nil {
		return err
	}
	say(s, "Kept; sign in again to work at the device.")
	return nil
}

type deviceForgetCmd struct{ place }

func (deviceForgetCmd) Help() string {
	return `Examples:

  wreath device forget`
}

// Run forgets the device's secret.
func (c *deviceForgetCmd) Run(s *streams) error {
	r, err := c.enter(context.Background())
	if err != nil {
		return err
	}
	defer r.Close()
	if err := c.dropOwn("devices"); err != nil {
		return err
	}
	say(s, "This account is no device any more.")
	return nil
}

type deviceListCmd struct {
	place
	formatted
}

func (deviceListCmd) Help() string {
	return `Examples:

  wreath device list`
}

// Run lists devices.
func (c *deviceListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		staff, err := r.Staff(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]people.Device{}, staff.Devices...))
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		if len(staff.Devices) == 0 {
			say(s, "No device is enrolled.")
			return nil
		}
		var rows [][]string
		for _, d := range staff.Devices {
			shared := "one person"
			if d.Shared {
				shared = "shared"
			}
			rows = append(rows, []string{d.ID, d.Name, shared, stamp(d.Enrolled, zone), d.EnrolledBy, ended(d.Ended, zone)})
		}
		return safeGrid(s.Out, "device|name|used by|enrolled|by|ended", rows)
	})
}

func ended(t *time.Time, zone *time.Location) string {
	if t == nil {
		return ""
	}
	return stamp(*t, zone)
}

type deviceEndCmd struct {
	place
	once
	ID     string `arg:"" name:"device" help:"Name of the device as listed, such as d-7k2m9q4x."`
	Reason string `required:"" help:"Why, in a few words."`
}

func (deviceEndCmd) Help() string {
	return `Examples:

  wreath device end d-example --reason "stolen"`
}

// Run ends a device.
func (c *deviceEndCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		err := r.EndDevice(ctx, c.by(who), c.ID, c.Reason)
		if err == nil {
			say(s, "%s is ended, and every PIN at it.", c.ID)
		}
		return err
	})
}

// tokenCmd is about programs.
type tokenCmd struct {
	Issue tokenIssueCmd `cmd:"" help:"Let a program in with some of your roles."`
	List  tokenListCmd  `cmd:"" help:"The tokens."`
	End   tokenEndCmd   `cmd:"" help:"End a token."`
}

type tokenIssueCmd struct {
	place
	formatted
	Name  string `arg:"" help:"What it is for, such as \"label printer\"."`
	Roles []role `required:"" help:"What the program may do: measure, instruments, price or audit; several with commas."`
	Until string `required:"" placeholder:"DAY" help:"Last day on which it works; at most a year from now."`
}

func (tokenIssueCmd) Help() string {
	return `Examples:

  wreath token issue "label printer" --roles audit --until "$(date -d '+90 days' +%F)"

The secret is printed once. The program gives it as WREATH_TOKEN. It can't sign, witness or administer.`
}

// Run issues a token.
func (c *tokenIssueCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		until, err := day("until", c.Until, zone, true)
		if err != nil {
			return err
		}
		secret, t, err := r.IssueToken(ctx, desk.By{Who: who}, c.Name, rolesOf(c.Roles), until)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, shownOnce{t.ID, t.Name, secret})
		}
		say(s, "%s may do what %s may, until %s: %s", harmless(t.Name), namesOf(t.Roles), stamp(t.Expires, zone), t.ID)
		say(s, "secret  %s", secret)
		say(s, "It is shown once; the program gives it as WREATH_TOKEN.")
		return nil
	})
}

type tokenListCmd struct {
	place
	formatted
}

func (tokenListCmd) Help() string {
	return `Examples:

  wreath token list`
}

// Run lists tokens.
func (c *tokenListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		staff, err := r.Staff(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]people.ServiceToken{}, staff.Tokens...))
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		if len(staff.Tokens) == 0 {
			say(s, "No token was issued.")
			return nil
		}
		var rows [][]string
		for _, t := range staff.Tokens {
			rows = append(rows, []string{t.ID, t.Name, t.Owner, namesOf(t.Roles), stamp(t.Expires, zone), ended(t.Ended, zone)})
		}
		return safeGrid(s.Out, "token|for|answered for by|roles|until|ended", rows)
	})
}

type tokenEndCmd struct {
	place
	once
	ID     string `arg:"" name:"token" help:"Name of the token as listed."`
	Reason string `required:"" help:"Why, in a few words."`
}

func (tokenEndCmd) Help() string {
	return `Examples:

  wreath token end t-example --reason "printer replaced"`
}

// Run ends a token.
func (c *tokenEndCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		err := r.EndToken(ctx, c.by(who), c.ID, c.Reason)
		if err == nil {
			say(s, "%s is ended.", c.ID)
		}
		return err
	})
}
