package picture

import "fmt"

// Path is the way from one entry of the ledger to the signed head (RFC 6962, section 2.1.1).
type Path struct {
	Index, Size uint64   // the entry's place, from 0, and how many entries the head covers
	Hashes      []string // of the neighbours, from the entry up, as they are shown; as many as the tree asks for, or none
	Head        string   // about the head: "head, signed 11:00"
}

// mostSteps is the depth of a tree of 2^64 entries.
const mostSteps = 64

// lefts says for each step up whether the neighbour stands on the left (RFC 9162, section 2.1.3.2).
func (p Path) lefts() []bool {
	if p.Size == 0 || p.Index >= p.Size {
		return nil
	}
	var out []bool
	for at, last := p.Index, p.Size-1; last > 0; at, last = at>>1, last>>1 {
		switch {
		case at&1 == 1:
			out = append(out, true)
		case at < last:
			out = append(out, false)
		}
	}
	return out
}

// Proof draws the path from an entry to the signed head: at each step the hash so far joins that of
// a neighbour. The neighbour stands on the side on which it is hashed.
func (l Language) Proof(p Path, width int) Picture {
	const step, box, foot = 34.0, 9.0, 22.0
	c := canvas{width: float64(max(width, narrowest)), in: l.Book}
	lefts := p.lefts()
	if len(p.Hashes) > 0 && len(p.Hashes) != len(lefts) || len(lefts) > mostSteps || p.Size == 0 || p.Index >= p.Size {
		c.text("m", 0, 14, start, "this path does not belong to this entry")
		return c.finish("proof", "No path: it does not belong to this entry.", 22)
	}
	mid := c.width / 2
	side := c.width * 0.22
	height := foot + 2*box + float64(len(lefts))*step + 12
	y := height - foot - box
	for i, left := range lefts {
		x := mid + side
		if left {
			x = mid - side
		}
		above := y - step
		c.path("ink", new(track).add('M', mid, y-box).add('V', above+box).add('M', x, y-box).add('L', mid, above+box).String())
		c.rect("band", x-box, y-box, 2*box, 2*box)
		if len(p.Hashes) > 0 {
			words := cutTo(p.Hashes[i], c.width*0.25-14, false)
			if left {
				c.text("m", x-box-6, y+4.7, end, words)
			} else {
				c.text("m", x+box+6, y+4.7, start, words)
			}
		}
		if i == 0 {
			c.rect("dot", mid-box, y-box, 2*box, 2*box)
		} else {
			c.rect("mark", mid-box, y-box, 2*box, 2*box)
		}
		y = above
	}
	if len(lefts) == 0 {
		c.rect("dot", mid-box, y-box, 2*box, 2*box)
	} else {
		c.rect("solid", mid-box, y-box, 2*box, 2*box)
	}
	head := p.Head
	if head == "" {
		head = c.in.Say("signed head")
	}
	c.text("b", mid+box+6, y+4.7, start, cutTo(head, mid-box-8, true))
	c.text("b", mid, height-4, middle, cutTo(c.in.Sayf("this entry, %d of %d", p.Index+1, p.Size), c.width-4, true))
	return c.finish("proof", fmt.Sprintf("Path from entry %d of %d to the signed head: %s.", p.Index+1, p.Size, counted(len(lefts), "neighbour")), height)
}

// counted says how many: "1 neighbour", "3 neighbours".
func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
