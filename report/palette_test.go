package report

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// rgb is a colour with channels 0..1, gamma-coded as in sRGB.
type rgb [3]float64

// palettes reads the style sheet's colours: light, dark and paper.
func palettes(t *testing.T) map[string]map[string]rgb {
	t.Helper()
	token := regexp.MustCompile(`--([a-z0-9-]+):#([0-9a-f]{3,6})\b`)
	found := map[string]map[string]rgb{}
	blocks := regexp.MustCompile(`:root\{[^}]*\}`).FindAllString(styleSheet, -1)
	if len(blocks) != 3 {
		t.Fatalf("%d palettes in the style sheet, want light, dark and print", len(blocks))
	}
	for k, name := range []string{"light", "dark", "print"} {
		found[name] = map[string]rgb{}
		for _, m := range token.FindAllStringSubmatch(blocks[k], -1) {
			hex := m[2]
			if len(hex) == 3 {
				hex = strings.Repeat(hex[0:1], 2) + strings.Repeat(hex[1:2], 2) + strings.Repeat(hex[2:3], 2)
			}
			var c rgb
			for i := range c {
				n, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
				if err != nil {
					t.Fatal(err)
				}
				c[i] = float64(n) / 255
			}
			found[name][m[1]] = c
		}
	}
	return found
}

func (c rgb) linear() rgb {
	for i, v := range c {
		if v <= 0.04045 {
			c[i] = v / 12.92
		} else {
			c[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return c
}

// contrast is the ratio of WCAG 2.2, "contrast ratio" (1.4.3 asks 4.5 of text
// and 1.4.11 asks 3 of graphics that are needed to understand the content).
func contrast(a, b rgb) float64 {
	luminance := func(c rgb) float64 {
		l := c.linear()
		return 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2]
	}
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// The formula's own ends: black on white is 21, and #767676 on white is the
// well-known grey just above 4.5 (4.54).
func TestContrastFormula(t *testing.T) {
	white, grey := rgb{1, 1, 1}, rgb{0x76 / 255., 0x76 / 255., 0x76 / 255.}
	if c := contrast(rgb{}, white); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white %g", c)
	}
	if c := contrast(grey, white); math.Abs(c-4.54) > 0.005 {
		t.Errorf("#767676 on white %g", c)
	}
}

func TestTextHasContrast(t *testing.T) {
	for name, p := range palettes(t) {
		for _, text := range []string{"ink", "quiet", "link"} {
			for _, ground := range []string{"paper", "sheet"} {
				if c := contrast(p[text], p[ground]); c < 4.5 {
					t.Errorf("%s: --%s on --%s has %.2f, AA asks 4.5", name, text, ground, c)
				}
			}
		}
		if c := contrast(p["lug"], p["paper"]); c < 4.5 {
			t.Errorf("%s: numbers in --lug have %.2f", name, c)
		}
		for _, mark := range []string{"band", "spin", "leg", "earth", "loss-1"} {
			if c := contrast(p[mark], p["paper"]); c < 3 {
				t.Errorf("%s: lines in --%s have %.2f, AA asks 3 of graphics", name, mark, c)
			}
		}
	}
}

// seen is the colour as people without one kind of cone see it: Machado,
// Oliveira & Fernandes 2009, IEEE TVCG 15(6):1291, matrices of severity 1.0 in
// linear sRGB (MEMORY: recalled, not seen while this was written).
func (c rgb) seen(m [3]rgb) rgb {
	l := c.linear()
	var out rgb
	for i, row := range m {
		out[i] = math.Min(1, math.Max(0, row[0]*l[0]+row[1]*l[1]+row[2]*l[2]))
	}
	return out
}

// lab turns linear sRGB into CIELAB, D65.
func lab(l rgb) (L, a, b float64) {
	x := (0.4124*l[0] + 0.3576*l[1] + 0.1805*l[2]) / 0.9505
	y := 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2]
	z := (0.0193*l[0] + 0.1192*l[1] + 0.9505*l[2]) / 1.089
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return 116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))
}

// Colours that stand for different things differ to every kind of eye: at
// least 20 units of CIE 1976 (2.3 is just noticeable), and patterns and words
// tell them apart besides.
func TestColoursAreToldApart(t *testing.T) {
	eyes := map[string][3]rgb{
		"all cones":    {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
		"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
		"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	}
	groups := [][]string{{"lug", "band", "spin", "rest"}, {"ink", "band", "leg"}, {"plan", "ink"}, {"lug", "band-tint", "ink"}}
	for name, p := range palettes(t) {
		for eye, m := range eyes {
			for _, group := range groups {
				for i, a := range group {
					for _, b := range group[i+1:] {
						L1, a1, b1 := lab(p[a].seen(m))
						L2, a2, b2 := lab(p[b].seen(m))
						if d := math.Sqrt((L1-L2)*(L1-L2) + (a1-a2)*(a1-a2) + (b1-b2)*(b1-b2)); d < 20 {
							t.Errorf("%s, %s: --%s and --%s are only %.1f apart", name, eye, a, b, d)
						}
					}
				}
			}
		}
	}
}
