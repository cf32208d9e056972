package uncertainty

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// Trials chooses the random trials of Plain and Adaptive.
type Trials struct {
	N       int     // Plain: number of trials, 0: 1 000 000. Adaptive: the most, 0: 5 000 000
	P       float64 // coverage probability; 0: 0.95
	Seed    uint64  // the same seed gives the same answer
	Workers int     // goroutines; 0: one for each processor. The answer does not depend on it
}

// Sample is what random trials tell about the output.
type Sample struct {
	Result
	ShortestLow  float64 // ends of the shortest interval with coverage probability P (JCGM 101 7.7.4)
	ShortestHigh float64
}

// ErrUnstable says that an adaptive run did not reach its tolerance within its trials.
var ErrUnstable = errors.New("the trials have not settled to the digits asked for; allow more trials or ask for one digit less")

// blockSize is the number of trials that share a generator, and a block of Adaptive.
const blockSize = 10000

// batch is the number of trials whose inputs are drawn before the model is evaluated.
const batch = 250

// Plain propagates the distributions by plain random trials (JCGM 101:2008 7). f is called
// from several goroutines.
func Plain(inputs []Input, f Model, t Trials) (Sample, error) {
	if t.N == 0 {
		t.N = 1_000_000
	}
	p, err := newTrials(inputs, f, &t, blockSize)
	if err != nil {
		return Sample{}, err
	}
	if fewest := int(math.Ceil(20 / (1 - t.P))); t.N < fewest {
		return Sample{}, fmt.Errorf("%d trials are too few for a %g %% interval; take %d or more", t.N, 100*t.P, fewest)
	}
	low, high, all := p.tails(t.N - p.covered(t.N))
	if !all.finite() {
		return Sample{}, errNotFinite
	}
	s := p.summary(low, high, all)
	s.Method = fmt.Sprintf("%d random trials, seed %d", t.N, t.Seed)
	return s, nil
}

// Adaptive runs blocks of random trials until expectation, standard deviation and both ends
// of the interval have settled to half a unit of the last of the given number of significant
// digits of the standard deviation, 1 or 2 (JCGM 101:2008 7.9.4). Where Trials.N is reached
// before, it returns what it has, with ErrUnstable.
func Adaptive(inputs []Input, f Model, digits int, t Trials) (Sample, error) {
	if t.N == 0 {
		t.N = 5_000_000
	}
	p, err := newTrials(inputs, f, &t, blockSize)
	if err != nil {
		return Sample{}, err
	}
	p.block = max(blockSize, int(math.Ceil(100/(1-t.P))))
	var y []float64
	var blocks [4]sums // of y, u, low, high, one value a block
	var all sums
	for len(y) < t.N || len(y) == 0 {
		wave, _ := p.values(p.workers*p.block, len(y)/p.block)
		for len(wave) > 0 {
			block := wave[:p.block]
			wave = wave[p.block:]
			y = append(y, block...)
			own := p.sum(block)
			all.add(own)
			if !all.finite() {
				return Sample{}, errNotFinite
			}
			s := p.sorted(block, own)
			for i, v := range [4]float64{s.Y, s.U, s.Low, s.High} {
				blocks[i].observe(v - p.y0)
			}
			if p.settled(blocks[:], Tolerance(all.sd(), digits)) {
				return p.adapted(y, all), nil
			}
		}
	}
	return p.adapted(y, all), ErrUnstable
}

// trials is the work of one call of Plain or Adaptive.
type trials struct {
	Trials
	f       Model
	draws   []draw
	y0      float64
	block   int
	workers int
}

func newTrials(inputs []Input, f Model, t *Trials, block int) (*trials, error) {
	if t.P == 0 {
		t.P = 0.95
	}
	if err := checkCoverage(t.P); err != nil {
		return nil, err
	}
	if err := checkInputs(inputs); err != nil {
		return nil, err
	}
	p := &trials{Trials: *t, f: f, block: block, workers: t.Workers}
	if p.workers <= 0 {
		p.workers = runtime.GOMAXPROCS(0)
	}
	x := make([]float64, len(inputs))
	for i := range inputs {
		x[i] = inputs[i].Value
		p.draws = append(p.draws, newDraw(&inputs[i]))
	}
	p.y0 = f(x)
	return p, nil
}

// each runs n trials, block by block from the given block on, and hands the values of each
// block to take, together with its number and that of the worker, who uses y again. It returns
// the sums of all. Each block has its own generator and the sums are added in the order of the
// blocks, so it does not matter who works on which.
func (p *trials) each(n, first int, take func(worker, block int, y []float64)) sums {
	count := (n + p.block - 1) / p.block
	parts := make([]sums, count)
	var next atomic.Int64
	var wait sync.WaitGroup
	for worker := range min(p.workers, count) {
		wait.Go(func() {
			x := make([]float64, batch*len(p.draws))
			words := make([]uint32, batch)
			buffer := make([]float64, p.block)
			for {
				b := int(next.Add(1)) - 1
				if b >= count {
					return
				}
				y := buffer[:min(p.block, n-b*p.block)]
				p.fill(y, x, words, rand.NewPCG(p.Seed, uint64(first+b)))
				parts[b] = p.sum(y)
				take(worker, b, y)
			}
		})
	}
	wait.Wait()
	var all sums
	for _, part := range parts {
		all.add(part)
	}
	return all
}

// values returns the values of n trials from the given block on.
func (p *trials) values(n, first int) ([]float64, sums) {
	all := make([]float64, n)
	s := p.each(n, first, func(_, block int, y []float64) { copy(all[block*p.block:], y) })
	return all, s
}

// tails runs p.N trials and returns the k smallest and the k greatest values, each in order.
// The first block tells where the tails begin, and only what lies in them is kept. Should it
// mislead, all values are kept.
func (p *trials) tails(k int) (low, high []float64, all sums) {
	sample, s := p.values(min(p.block, p.N), 0)
	if !s.finite() {
		return nil, nil, s
	}
	// The share wanted, and five standard deviations of it as a margin.
	n := float64(len(sample))
	share := float64(k) / float64(p.N)
	rank := int(n*share + 5*math.Sqrt(n*share) + 1)
	if 2*rank < len(sample) && len(sample) < p.N {
		sample = bucketSort(sample)
		low, high, all = p.outside(sample[rank], sample[len(sample)-1-rank], p.N*rank/len(sample))
	}
	if len(low) < k || len(high) < k {
		low, all = p.values(p.N, 0)
		if all.finite() {
			low = bucketSort(low)
		}
		return low[:k], low[len(low)-k:], all
	}
	var wait sync.WaitGroup
	wait.Go(func() { low = bucketSort(low) })
	high = bucketSort(high)
	wait.Wait()
	return low[:k], high[len(high)-k:], all
}

// outside runs p.N trials and returns the values at most from, and those at least to, about
// as many of each as expected.
func (p *trials) outside(from, to float64, expected int) (low, high []float64, all sums) {
	lows := make([][]float64, p.workers)
	highs := make([][]float64, p.workers)
	all = p.each(p.N, 0, func(worker, _ int, y []float64) {
		low, high := lows[worker], highs[worker]
		if low == nil {
			room := (expected + expected/8) / p.workers
			low, high = make([]float64, 0, room), make([]float64, 0, room)
		}
		for _, v := range y {
			if v <= from {
				low = append(low, v)
			} else if v >= to {
				high = append(high, v)
			}
		}
		lows[worker], highs[worker] = low, high
	})
	return slices.Concat(lows...), slices.Concat(highs...), all
}

// fill draws the inputs and evaluates the model for each element of y, a few hundred at a
// time: x has room for the inputs of so many, words for their random bits.
func (p *trials) fill(y, x []float64, words []uint32, g *rand.PCG) {
	n := len(p.draws)
	for len(y) > 0 {
		count := min(batch, len(y))
		for i := range p.draws {
			p.draws[i].column(x[i:n*count], n, words, g)
		}
		for k := range count {
			y[k] = p.f(x[k*n : (k+1)*n])
		}
		y = y[count:]
	}
}

// sums gathers numbers for mean and standard deviation.
type sums struct{ n, sum, squares float64 }

func (s *sums) observe(d float64) {
	s.n++
	s.sum += d
	s.squares += d * d
}

func (s *sums) add(o sums) {
	s.n += o.n
	s.sum += o.sum
	s.squares += o.squares
}

func (s *sums) mean() float64 { return s.sum / s.n }

func (s *sums) sd() float64 {
	return math.Sqrt(max(s.squares-s.sum*s.sum/s.n, 0) / (s.n - 1))
}

func (s *sums) finite() bool { return finite(s.squares) }

// sum gathers y less the value at the inputs' values, so that no digits are lost.
func (p *trials) sum(y []float64) sums {
	s := sums{n: float64(len(y))}
	for _, v := range y {
		d := v - p.y0
		s.sum += d
		s.squares += d * d
	}
	return s
}

// settled tells whether twice the standard deviation of each mean over the blocks is within
// the tolerance.
func (p *trials) settled(blocks []sums, tolerance float64) bool {
	for i := range blocks {
		if blocks[i].n < 2 || 2*blocks[i].sd()/math.Sqrt(blocks[i].n) > tolerance {
			return false
		}
	}
	return true
}

func (p *trials) adapted(y []float64, all sums) Sample {
	count := len(y)
	s := p.sorted(y, all)
	s.Method = fmt.Sprintf("%d random trials in adaptive blocks, seed %d", count, p.Seed)
	return s
}

// covered returns how many of m values an interval is to hold.
func (p *trials) covered(m int) int { return int(p.P*float64(m) + 0.5) }

// sorted puts y in order and finds the intervals.
func (p *trials) sorted(y []float64, own sums) Sample {
	k := len(y) - p.covered(len(y))
	y = bucketSort(y)
	return p.summary(y[:k], y[len(y)-k:], own)
}

// summary finds the intervals among m trials (JCGM 101:2008 7.7): with q = P m, made whole,
// the symmetric interval runs from the r-th to the (r+q)-th value in order with r = (m-q)/2,
// the shortest over the r where these are closest. low and high are the m-q smallest and the
// m-q greatest values in order.
func (p *trials) summary(low, high []float64, own sums) Sample {
	r := (len(low) + 1) / 2
	s := Sample{
		Result:       Result{Y: p.y0 + own.mean(), U: own.sd(), P: p.P, Low: low[r-1], High: high[r-1], Points: int(own.n)},
		ShortestLow:  low[0],
		ShortestHigh: high[0],
	}
	for i := range low {
		if high[i]-low[i] < s.ShortestHigh-s.ShortestLow {
			s.ShortestLow, s.ShortestHigh = low[i], high[i]
		}
	}
	return s
}
