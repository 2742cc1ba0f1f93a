package export

import "strings"

// lineWidth is how long a line of a JSON file gets before it is broken: what
// a review tool shows side by side on a wide screen.
const lineWidth = 120

// jsonNode is a value of a JSON text with its members in their order.
type jsonNode struct {
	open  byte // '{', '[' or 0 for a scalar
	keys  []string
	kids  []*jsonNode
	text  string // a scalar as written
	width int    // characters on one line
}

// layoutJSON breaks valid, compact JSON into lines so that a difference of two
// files reads well: what fits on a line stays on it; the members of longer
// objects and lists get lines of their own, but numbers and positions are packed.
func layoutJSON(compact []byte) []byte {
	root, _ := scanNode(string(compact), 0)
	var b strings.Builder
	root.write(&b, "")
	b.WriteByte('\n')
	return []byte(b.String())
}

// scanNode reads the value that starts at i and returns where it ends. The
// text is our own encoder's: it is valid and holds no white space between tokens.
func scanNode(s string, i int) (*jsonNode, int) {
	if s[i] != '{' && s[i] != '[' {
		end := scalarEnd(s, i)
		return &jsonNode{text: s[i:end], width: end - i}, end
	}
	n := &jsonNode{open: s[i], width: 2}
	for i++; s[i] != '}' && s[i] != ']'; {
		if s[i] == ',' {
			i++
			n.width += 2
		}
		if n.open == '{' {
			end := scalarEnd(s, i)
			n.keys = append(n.keys, s[i:end])
			n.width += end - i + 2
			i = end + 1
		}
		kid, end := scanNode(s, i)
		n.kids = append(n.kids, kid)
		n.width += kid.width
		i = end
	}
	return n, i + 1
}

func scalarEnd(s string, i int) int {
	if s[i] != '"' {
		return i + strings.IndexAny(s[i:], ",]}")
	}
	for i++; s[i] != '"'; i++ {
		if s[i] == '\\' {
			i++
		}
	}
	return i + 1
}

// packed says that the node's members may share lines: numbers, strings or
// positions.
func (n *jsonNode) packed() bool {
	for _, k := range n.kids {
		if k.open == '{' || k.open == '[' && !k.position() {
			return false
		}
	}
	return n.open == '['
}

func (n *jsonNode) position() bool {
	return n.open == '[' && len(n.kids) == 2 && n.kids[0].open == 0 && n.kids[1].open == 0
}

func (n *jsonNode) write(b *strings.Builder, indent string) {
	switch {
	case n.open == 0:
		b.WriteString(n.text)
	case len(indent)+n.width <= lineWidth:
		n.writeLine(b)
	default:
		n.writeLines(b, indent)
	}
}

func (n *jsonNode) writeLine(b *strings.Builder) {
	if n.open == 0 {
		b.WriteString(n.text)
		return
	}
	b.WriteByte(n.open)
	for i, k := range n.kids {
		if i > 0 {
			b.WriteString(", ")
		}
		if n.open == '{' {
			b.WriteString(n.keys[i] + ": ")
		}
		k.writeLine(b)
	}
	b.WriteByte(n.open + 2) // in ASCII the closing bracket is two behind the opening one
}

func (n *jsonNode) writeLines(b *strings.Builder, indent string) {
	b.WriteByte(n.open)
	inner := indent + "  "
	used, packed := 0, n.packed()
	for i, k := range n.kids {
		switch {
		case packed && i > 0 && used+2+k.width < lineWidth:
			b.WriteString(", ")
			used += 2
		case i > 0:
			b.WriteString(",\n" + inner)
			used = len(inner)
		default:
			b.WriteString("\n" + inner)
			used = len(inner)
		}
		used += k.width
		if n.open == '{' {
			b.WriteString(n.keys[i] + ": ")
		}
		k.write(b, inner)
	}
	b.WriteString("\n" + indent)
	b.WriteByte(n.open + 2)
}
