package mutate

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// places lists every edit of a package.
func (t *target) places() []*edit {
	var all []*edit
	for _, s := range t.files {
		f := &finder{target: t, source: s, names: importNames(t, s.tree)}
		for _, d := range s.tree.Decls {
			f.decl(d)
		}
		all = append(all, f.found...)
	}
	return all
}

// finder looks for edits in one file.
type finder struct {
	*target
	*source
	names map[string]string // of imported packages
	found []*edit
}

// importNames are the names by which a file knows the packages that it imports.
func importNames(t *target, tree *ast.File) map[string]string {
	names := map[string]string{}
	for _, p := range t.pkg.Imports() {
		names[p.Path()] = p.Name()
	}
	known := map[string]string{}
	for _, s := range tree.Imports {
		path := strings.Trim(s.Path.Value, `"`)
		known[path] = names[path]
		if s.Name != nil {
			known[path] = s.Name.Name
		}
	}
	return known
}

func (f *finder) decl(d ast.Decl) {
	switch d := d.(type) {
	case *ast.FuncDecl:
		if d.Body != nil {
			f.look(d.Body)
		}
	case *ast.GenDecl:
		if d.Tok == token.VAR {
			f.look(d)
		}
	}
}

// look walks a tree and notes what can be edited in it.
func (f *finder) look(root ast.Node) {
	ast.Inspect(root, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return n.Tok == token.VAR
		case *ast.ArrayType, *ast.StructType, *ast.InterfaceType, *ast.FuncType, *ast.MapType, *ast.ChanType:
			return false
		case *ast.BlockStmt:
			f.drops(n.List)
		case *ast.CaseClause:
			f.drops(n.Body)
			for _, e := range n.List {
				if f.isBool(e) && !f.isConst(e) {
					f.condition(e)
				}
			}
		case *ast.CommClause:
			f.drops(n.Body)
		case *ast.IfStmt:
			f.condition(n.Cond)
			if n.Else == nil {
				f.wrap("branch never taken", n.Cond, "(", ") && !mutantOn(%d)", "false")
			}
		case *ast.ForStmt:
			if n.Cond != nil {
				f.condition(n.Cond)
			}
		case *ast.CompositeLit:
			f.literal(n)
			return false
		case *ast.CallExpr:
			return f.call(n)
		case *ast.AssignStmt:
			f.assign(n)
		case *ast.ReturnStmt:
			if len(n.Results) == 1 && f.signed(n.Results[0]) && !f.isConst(n.Results[0]) {
				f.wrap("sign of the result", n.Results[0], "mutantSign(%d, ", ")", "-("+f.code(n.Results[0])+")")
			}
		case ast.Expr:
			return f.expr(n)
		}
		return true
	})
}

// literal looks into a composite literal; keys of arrays and fields stay.
func (f *finder) literal(n *ast.CompositeLit) {
	_, isMap := f.info.Types[n].Type.Underlying().(*types.Map)
	for _, e := range n.Elts {
		if kv, ok := e.(*ast.KeyValueExpr); ok {
			if isMap {
				f.look(kv.Key)
			}
			e = kv.Value
		}
		f.look(e)
	}
}

// expr notes the edits of an expression, and says whether to look inside.
func (f *finder) expr(n ast.Expr) bool {
	tv := f.info.Types[n]
	if tv.IsType() {
		return false
	}
	if tv.Value != nil {
		f.constant(n, tv)
		return false
	}
	switch n := n.(type) {
	case *ast.BinaryExpr:
		if n.Op == token.SHL || n.Op == token.SHR {
			return false
		}
		f.binary(n)
	case *ast.UnaryExpr:
		switch n.Op {
		case token.SUB:
			f.wrap("sign dropped", n, "mutantSign(%d, ", ")", f.code(n.X))
		case token.NOT:
			f.wrap("not dropped", n, "(", " != mutantOn(%d))", f.code(n.X))
		}
	}
	return true
}

// constant notes what else a constant could be. Its type is that which it takes on
// where it stands.
func (f *finder) constant(n ast.Expr, tv types.TypeAndValue) {
	name, ok := f.typeName(tv.Type)
	if !ok {
		return
	}
	other := func(kind, is string) {
		f.wrap(kind, n, "mutantPick["+name+"](%d, ", ", "+is+")", is)
	}
	basic := tv.Type.Underlying().(*types.Basic)
	switch info := basic.Info(); {
	case info&types.IsBoolean != 0:
		other("true for false", fmt.Sprint(!constant.BoolVal(tv.Value)))
	case info&types.IsString != 0:
		if was := constant.StringVal(tv.Value); len(was) > longestText {
			return
		} else if is, ok := swapped(was); ok {
			other("words swapped", fmt.Sprintf("%q", is))
		}
	case info&types.IsInteger != 0:
		if v, exact := constant.Int64Val(constant.ToInt(tv.Value)); exact {
			if basic.Kind() == types.Uint8 || basic.Kind() == types.Int32 {
				return // a letter
			}
			if v < -large || v > large {
				other("constant", fmt.Sprint(v/2))
				return
			}
			other("constant", fmt.Sprint(v+1))
			if info&types.IsUnsigned == 0 || v > 0 {
				other("constant", fmt.Sprint(v-1))
			}
		}
	case info&types.IsFloat != 0:
		code := f.code(n)
		if constant.Sign(tv.Value) == 0 {
			other("constant", "1")
			return
		}
		other("constant", "("+code+") * 2")
		other("constant", "("+code+") / 2")
		other("sign of a constant", "-("+code+")")
	}
}

// Beyond large a whole number is a size or a time, which one more does not change; a text
// beyond longestText is a program in another language.
const large, longestText = 24, 400

// typeName writes a basic or named type as this file would.
func (f *finder) typeName(t types.Type) (string, bool) {
	switch t := t.(type) {
	case *types.Basic:
		return t.Name(), t.Info()&types.IsUntyped == 0
	case *types.Named:
		if _, ok := t.Underlying().(*types.Basic); !ok || t.Obj().Pkg() == nil {
			return "", false
		}
		if t.Obj().Pkg() == f.pkg {
			return t.Obj().Name(), t.Obj().Parent() == f.pkg.Scope()
		}
		name, known := f.names[t.Obj().Pkg().Path()]
		return name + "." + t.Obj().Name(), known && name != "" && t.Obj().Exported()
	}
	return "", false
}

// otherOps are the operators that take another's place, with the function that
// does either.
var otherOps = map[token.Token][]struct {
	is token.Token
	by string
}{
	token.ADD: {{token.SUB, "mutantAdd"}},
	token.SUB: {{token.ADD, "mutantSub"}},
	token.MUL: {{token.QUO, "mutantMul"}},
	token.QUO: {{token.MUL, "mutantQuo"}},
	token.LSS: {{token.GTR, "mutantLess"}, {token.LEQ, "mutantBelow"}},
	token.GTR: {{token.LSS, "mutantGreater"}, {token.GEQ, "mutantAbove"}},
	token.LEQ: {{token.GTR, "mutantAtMost"}, {token.LSS, "mutantUpTo"}},
	token.GEQ: {{token.LSS, "mutantAtLeast"}, {token.GTR, "mutantFrom"}},
}

// binary notes the other operators of an expression.
func (f *finder) binary(n *ast.BinaryExpr) {
	switch n.Op {
	case token.EQL, token.NEQ:
		other := token.NEQ
		if n.Op == token.NEQ {
			other = token.EQL
		}
		f.whole("comparison", n, other, "((", ") != mutantOn(%d))")
		return
	case token.LAND, token.LOR:
		other, by := token.LOR, "mutantAnd"
		if n.Op == token.LOR {
			other, by = token.LAND, "mutantOr"
		}
		f.note("and for or", n, f.at(n.OpPos), n.Op, other,
			change{f.at(n.X.Pos()), f.at(n.X.Pos()), by + "(%d, ", opens},
			change{f.at(n.OpPos), f.at(n.OpPos) + 2, ", func() bool { return ", stands},
			change{f.at(n.Y.End()), f.at(n.Y.End()), "})", closes})
		return
	}
	basic, ok := f.info.Types[n.X].Type.Underlying().(*types.Basic)
	if !ok {
		return
	}
	arithmetic := n.Op == token.ADD || n.Op == token.SUB || n.Op == token.MUL || n.Op == token.QUO
	if basic.Info()&types.IsNumeric == 0 && (arithmetic || basic.Info()&types.IsOrdered == 0) {
		return
	}
	if basic.Info()&types.IsComplex != 0 && !arithmetic {
		return
	}
	for _, o := range otherOps[n.Op] {
		if basic.Info()&types.IsFloat != 0 && bound(o.by) {
			continue // of real numbers few lie on a bound
		}
		kind := "operator"
		if bound(o.by) {
			kind = "bound"
		} else if !arithmetic {
			kind = "comparison"
		}
		f.note(kind, n, f.at(n.OpPos), n.Op, o.is,
			change{f.at(n.X.Pos()), f.at(n.X.Pos()), o.by + "(%d, ", opens},
			change{f.at(n.OpPos), f.at(n.OpPos) + len(n.Op.String()), ",", stands},
			change{f.at(n.Y.End()), f.at(n.Y.End()), ")", closes})
	}
}

// bound reports whether a function moves the bound of a comparison.
func bound(by string) bool {
	return by == "mutantBelow" || by == "mutantAbove" || by == "mutantUpTo" || by == "mutantFrom"
}

// note adds an edit of an operator inside an expression.
func (f *finder) note(kind string, n ast.Expr, op int, was, is token.Token, changes ...change) {
	from, to := f.at(n.Pos()), f.at(n.End())
	text := string(f.text[from:op]) + is.String() + string(f.text[op+len(was.String()):to])
	f.found = append(f.found, &edit{kind: kind, file: f.source, from: from, to: to, is: text, changes: changes})
}

// whole adds an edit of an operator that is made around the expression.
func (f *finder) whole(kind string, n *ast.BinaryExpr, is token.Token, before, after string) {
	from, to, op := f.at(n.Pos()), f.at(n.End()), f.at(n.OpPos)
	f.wrap(kind, n, before, after, string(f.text[from:op])+is.String()+string(f.text[op+len(n.Op.String()):to]))
}

// wrap adds an edit that encloses a stretch.
func (f *finder) wrap(kind string, n ast.Node, before, after, is string) {
	from, to := f.at(n.Pos()), f.at(n.End())
	f.found = append(f.found, &edit{kind: kind, file: f.source, from: from, to: to, is: is,
		changes: []change{{from, from, before, opens}, {to, to, after, closes}}})
}

// condition notes the negation of a condition.
func (f *finder) condition(n ast.Expr) {
	if f.isConst(n) {
		return
	}
	f.wrap("condition negated", n, "((", ") != mutantOn(%d))", "!("+f.code(n)+")")
}

// call notes the edits of a call, and says whether to look inside.
func (f *finder) call(n *ast.CallExpr) bool {
	tv := f.info.Types[n]
	if tv.Value != nil || f.info.Types[n.Fun].IsType() {
		if tv.Value != nil {
			f.constant(n, tv)
			return false
		}
		return true // a conversion
	}
	switch name := f.code(n.Fun); name {
	case "make", "new", "panic", "math.Inf": // sizes, and what is not for anybody
		return false
	case "math.Hypot", "math.Cos":
		before := len(f.found)
		for _, a := range n.Args {
			f.look(a)
		}
		// They do not know the sign of what they are given.
		f.found = append(f.found[:before], slices.DeleteFunc(f.found[before:], func(e *edit) bool {
			return strings.HasPrefix(e.kind, "sign") && slices.ContainsFunc(n.Args, func(a ast.Expr) bool { return f.at(a.Pos()) == e.from && f.at(a.End()) == e.to })
		})...)
		return false
	case "min", "max":
		by, other := "mutantMin", "max"
		if name == "max" {
			by, other = "mutantMax", "min"
		}
		from, to := f.at(n.Pos()), f.at(n.Lparen)
		f.found = append(f.found, &edit{kind: "smallest for largest", file: f.source, from: from, to: f.at(n.End()), is: other + string(f.text[to:f.at(n.End())]),
			changes: []change{{from, to + 1, by + "(%d, ", opens}}})
	case "math.Abs":
		from, to := f.at(n.Pos()), f.at(n.Lparen)
		f.found = append(f.found, &edit{kind: "size dropped", file: f.source, from: from, to: f.at(n.End()), is: string(f.text[to:f.at(n.End())]),
			changes: []change{{from, to + 1, "mutantAbs(%d, ", opens}}})
	}
	f.swaps(n)
	return true
}

// swaps notes arguments of one type that could change places.
func (f *finder) swaps(n *ast.CallExpr) {
	if n.Ellipsis.IsValid() || symmetric[f.code(n.Fun)] {
		return
	}
	if b, ok := n.Fun.(*ast.Ident); ok {
		if _, builtin := f.info.Uses[b].(*types.Builtin); builtin {
			return
		}
	}
	for i := 0; i+1 < len(n.Args); i++ {
		a, b := n.Args[i], n.Args[i+1]
		ta, tb := f.info.Types[a], f.info.Types[b]
		if ta.Value != nil || tb.Value != nil || ta.IsNil() || tb.IsNil() || !types.Identical(ta.Type, tb.Type) || !plain(a) || !plain(b) || f.code(a) == f.code(b) {
			continue
		}
		from, to := f.at(a.Pos()), f.at(b.End())
		between := string(f.text[f.at(a.End()):f.at(b.Pos())])
		f.found = append(f.found, &edit{kind: "arguments swapped", file: f.source, from: from, to: to, is: f.code(b) + between + f.code(a), changes: []change{
			{from, from, "mutantPick(%d, ", opens}, {f.at(a.End()), f.at(a.End()), ", " + f.code(b) + ")", closes},
			{f.at(b.Pos()), f.at(b.Pos()), "mutantPick(%d, ", opens}, {to, to, ", " + f.code(a) + ")", closes},
		}})
	}
}

// symmetric are functions that give the same whichever argument comes first.
var symmetric = map[string]bool{"slices.Equal": true, "maps.Equal": true, "bytes.Equal": true, "strings.EqualFold": true, "subtle.ConstantTimeCompare": true, "os.SameFile": true, "reflect.DeepEqual": true, "math.Max": true, "math.Min": true, "math.Hypot": true}

// plain reports whether an expression can be read twice.
func plain(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name != "nil" && e.Name != "_"
	case *ast.SelectorExpr:
		return plain(e.X)
	case *ast.UnaryExpr:
		return e.Op == token.SUB && plain(e.X)
	}
	return false
}

// assign notes the edits of x += y and x -= y.
func (f *finder) assign(n *ast.AssignStmt) {
	if (n.Tok == token.ADD_ASSIGN || n.Tok == token.SUB_ASSIGN) && f.signed(n.Rhs[0]) {
		other := token.SUB_ASSIGN
		if n.Tok == token.SUB_ASSIGN {
			other = token.ADD_ASSIGN
		}
		from, to, y := f.at(n.Pos()), f.at(n.End()), f.at(n.Rhs[0].Pos())
		before := "mutantSign(%d, "
		if name, ok := f.typeName(f.info.Types[n.Lhs[0]].Type); ok {
			before = "mutantSign[" + name + "](%d, "
		}
		f.found = append(f.found, &edit{kind: "operator", file: f.source, from: from, to: to,
			is:      string(f.text[from:f.at(n.TokPos)]) + other.String() + " " + string(f.text[y:to]),
			changes: []change{{y, y, before, opens}, {to, to, ")", closes}}})
	}
}

// drops notes statements that could be missing.
func (f *finder) drops(list []ast.Stmt) {
	for _, s := range list {
		switch s := s.(type) {
		case *ast.ExprStmt:
			if c, ok := s.X.(*ast.CallExpr); ok && f.besidesTheCode(c) {
				continue
			}
		case *ast.AssignStmt:
			if s.Tok == token.DEFINE || f.code(s.Lhs[0]) == "_" {
				continue
			}
		case *ast.IncDecStmt, *ast.SendStmt:
		case *ast.BranchStmt:
			if s.Tok == token.GOTO || s.Tok == token.FALLTHROUGH {
				continue
			}
		default:
			continue
		}
		f.wrap("statement dropped", s, "if !mutantOn(%d) { ", " }", "")
	}
}

// besidesTheCode reports whether a call is one whose absence no test can see, or only by
// chance: logs, locks, panics for what cannot be.
func (f *finder) besidesTheCode(c *ast.CallExpr) bool {
	name := f.code(c.Fun)
	for _, end := range []string{".Lock", ".Unlock", ".RLock", ".RUnlock", ".Debug", ".Info", ".Warn", ".Error", ".Done", "panic"} {
		if strings.HasSuffix(name, end) {
			return true
		}
	}
	return false
}

func (f *finder) isConst(n ast.Expr) bool { return f.info.Types[n].Value != nil }

func (f *finder) isBool(n ast.Expr) bool {
	b, ok := f.info.Types[n].Type.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsBoolean != 0
}

// signed reports whether an expression is a number with a sign.
func (f *finder) signed(n ast.Expr) bool {
	t := f.info.Types[n].Type
	if t == nil {
		return false
	}
	b, ok := t.Underlying().(*types.Basic)
	return ok && b.Info()&(types.IsInteger|types.IsFloat) != 0 && b.Info()&types.IsUnsigned == 0
}

// code is an expression as it is written.
func (f *finder) code(n ast.Expr) string { return string(f.text[f.at(n.Pos()):f.at(n.End())]) }

// words that say the opposite of one another.
var opposites = [][2]string{
	{"sharp", "flat"}, {"high", "low"}, {"higher", "lower"}, {"above", "below"}, {"pull", "push"}, {"out", "in"}, {"up", "down"},
	{"more", "less"}, {"louder", "softer"}, {"first", "last"}, {"before", "after"}, {"left", "right"}, {"warm", "cold"}, {"longer", "shorter"},
	{"open", "closed"}, {"minutes", "seconds"},
}

// swapped says the opposite of a text, if a word of it has one.
func swapped(s string) (string, bool) {
	words := strings.Fields(s)
	for i, w := range words {
		bare := strings.ToLower(strings.Trim(w, ".,;:!?"))
		for _, o := range opposites {
			for k := range o {
				if bare == o[k] {
					at := 0
					for _, before := range words[:i] {
						at += strings.Index(s[at:], before) + len(before)
					}
					at += strings.Index(strings.ToLower(s[at:]), o[k])
					return s[:at] + o[1-k] + s[at+len(o[k]):], true
				}
			}
		}
	}
	return "", false
}
