package conductor

import (
	"math"
	"math/cmplx"
)

const (
	// VacuumPermeability is µ0 in H/m. The value 4π·10⁻⁷ was exact until 2019;
	// CODATA 2018 differs from it by less than 1e-9.
	VacuumPermeability = 4e-7 * math.Pi
	// VacuumPermittivity is ε0 in F/m, CODATA 2018 [from memory]. Air has 1.0006
	// times as much, which is left out.
	VacuumPermittivity = 8.8541878128e-12
	// euler is the Euler-Mascheroni constant.
	euler = 0.57721566490153286060651209008240243
)

// A Method is how the return through the earth is figured. There is no
// default; the matrices of one study should all be of one method.
type Method int

const (
	// ModifiedCarson keeps the constant first terms of Carson's correction,
	//
	//	P = π/8        Q = ½·ln(2/k) + ¼ − γ/2
	//
	// so that heights drop out and it serves buried conductors too. In miles
	// and feet at 60 Hz and 100 ohm·m it is the common
	//
	//	z_ii = r + 0.09530 + j0.12134·(ln(1/GMR) + 7.93402)    ohm/mile
	//
	// The first term left out is √2/6·k·cosθ, off P and onto Q, with
	// k = |m|·S as in CarsonSeries: 2.6 % of the earth's resistance at 10 m
	// height, 100 ohm·m and 60 Hz; 26 % at 1 ohm·m, where CarsonSeries is due.
	//
	// Source: J. R. Carson, Bell System Technical Journal 5 (1926);
	// W. H. Kersting, Distribution System Modeling and Analysis, chapter 4
	// [from memory].
	ModifiedCarson Method = iota + 1
	// CarsonSeries is Carson's correction for overhead wires in full. Its
	// series is summed to rounding, and taken over by the asymptotic one for
	// large distances, with an error below 1e-6 of P and Q there.
	//
	// Source: J. R. Carson, as above; coefficients in the form of H. W. Dommel,
	// Electromagnetic Transients Program theory book (1986) [from memory].
	CarsonSeries
	// ComplexDepth has images below a plane at the complex depth p = √(ρ/(jωµ0)),
	// for overhead wires. P and Q differ from Carson's by up to 3.5 % for a wire
	// and its own image, and by 2.6 % of |P + jQ| for k below 0.1 and 13 %
	// anywhere (sideways, near k = 3).
	//
	// Source: A. Deri, G. Tevan, A. Semlyen, A. Castanheira, IEEE Trans. Power
	// Apparatus and Systems 100 (1981) [from memory].
	ComplexDepth
	// WedepohlWilcox is the low-frequency form of Pollaczek's equations for
	// buried conductors: ModifiedCarson and one term for the depths,
	//
	//	−⅔·m·(d_i + d_j)        m = √(jωµ0/ρ)
	//
	// for m times the distance below 0.25.
	//
	// Source: L. M. Wedepohl, D. J. Wilcox, Proc. IEE 120 (1973) [from memory].
	WedepohlWilcox
)

var methodNames = []string{"", "modified Carson", "Carson series", "complex depth", "Wedepohl-Wilcox"}

func (m Method) valid() bool { return m >= ModifiedCarson && m <= WedepohlWilcox }

func (m Method) String() string {
	if !m.valid() {
		return "no method"
	}
	return methodNames[m]
}

// An Earth is the ground below a line, homogeneous.
type Earth struct {
	Resistivity float64 // ρ, ohm·m
}

// earthReturn gives the dimensionless bracket B of an impedance
//
//	Z = jω·µ0/(2π)·B
//
// of two conductors at distance D (or of one, D its geometric mean radius), at
// heights h1 and h2 (negative: buried), x apart.
//
//	ModifiedCarson   ln(2/(|m|·D)) + ½ − γ − jπ/4
//	WedepohlWilcox   the same, − ⅔·m·(−h1 − h2)
//	CarsonSeries     ln(S/D) + 2·Q − j2·P
//	ComplexDepth     ln(√((h1 + h2 + 2/m)² + x²)/D)
//
//	m   √(jω·µ0/ρ)                             1/m
//	S   √((h1 + h2)² + x²), to the image       m
func earthReturn(method Method, omega, resistivity, D, h1, h2, x float64) complex128 {
	size := math.Sqrt(omega * VacuumPermeability / resistivity)
	m := cmplx.Rect(size, math.Pi/4)
	switch method {
	case CarsonSeries:
		S := math.Hypot(h1+h2, x)
		P, Q := carson(size*S, math.Atan2(math.Abs(x), h1+h2))
		return complex(math.Log(S/D)+2*Q, -2*P)
	case ComplexDepth:
		h := complex(h1+h2, 0) + 2/m
		return cmplx.Log(cmplx.Sqrt(h*h+complex(x*x, 0)) / complex(D, 0))
	}
	b := complex(math.Log(2/(size*D))+0.5-euler, -math.Pi/4)
	if method == WedepohlWilcox {
		b -= 2.0 / 3 * m * complex(-h1-h2, 0)
	}
	return b
}

// seriesLimit is the k up to which Carson's power series is summed. There its
// largest terms are e^k = 9e6, so that some 1e-9 of rounding is left; the
// asymptotic series beyond is good to 3e-7 there.
const seriesLimit = 16

// carson gives Carson's correction
//
//	P + jQ = ∫ (√(u² + j) − u)·e^(−u·k·cosθ)·cos(u·k·sinθ) du,  u from 0 to ∞
//
//	k   |m|·S, distance to the image          –
//	θ   angle of that distance from upright   rad, 0 to π/2
func carson(k, theta float64) (P, Q float64) {
	if k > seriesLimit {
		return carsonFar(k, theta)
	}
	// b_i, c_i and d_i by their recurrences; terms repeat in groups of four,
	// and signs change from group to group.
	b := [2]float64{1.0 / 16, math.Sqrt2 / 6} // by parity of i
	c := math.Ln2 - euler + 1.25
	lnk := math.Log(k)
	P, Q = math.Pi/8, 0.5*(math.Ln2-euler+0.5-lnk)
	power := 1.0
	for i := 1; i <= 200; i++ {
		n := float64(i)
		if i > 2 {
			b[i%2] /= n * (n + 2)
			if (i-1)/4%2 == 1 {
				b[i%2] = -math.Abs(b[i%2])
			} else {
				b[i%2] = math.Abs(b[i%2])
			}
			if i%2 == 0 {
				c += 1/n + 1/(n+2)
			}
		}
		power *= k
		sin, cos := math.Sincos(n * theta)
		plain := b[i%2] * power * cos
		d := math.Pi / 4 * plain
		log := b[i%2] * power * ((c-lnk)*cos + theta*sin)
		switch i % 4 {
		case 1:
			P, Q = P-plain, Q+plain
		case 2:
			P, Q = P+log, Q-d
		case 3:
			P, Q = P+plain, Q+plain
		case 0:
			P, Q = P-d, Q-log
		}
		if n > k && math.Abs(b[i%2])*power*(c+math.Abs(lnk)+2) < 1e-17 { // also what follows: terms fall faster than k/n
			break
		}
	}
	return P, Q
}

// carsonFar integrates the expansion of the root term by term:
//
//	P + jQ = ½·j·(G(s) + G(s*)),  s = √j·k·e^(±jθ)
//	G(s)  ~ −1/s² + Σ binomial(½, n)·(2n)!/s^(2n+1)
//
// up to its smallest term.
func carsonFar(k, theta float64) (P, Q float64) {
	var sum complex128
	for _, sign := range []float64{1, -1} {
		s := cmplx.Rect(k, math.Pi/4+sign*theta)
		term := 1 / s
		g := term - 1/(s*s)
		for n := 1.0; n < k/2; n++ {
			// binomial(½, n)/binomial(½, n−1) = (1.5 − n)/n
			term *= complex((1.5-n)/n*2*n*(2*n-1), 0) / (s * s)
			g += term
		}
		sum += g
	}
	j := 0.5i * sum
	return real(j), imag(j)
}
