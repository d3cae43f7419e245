package main

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/printer"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
)

// mutant is a fault: bytes of a file replaced by others.
type mutant struct {
	result
	at, end int // byte offsets
	with    string
}

// swaps are operators and what a slip of the pen makes of them.
var swaps = map[token.Token][]token.Token{
	token.LSS: {token.GEQ}, token.LEQ: {token.GTR}, token.GTR: {token.LEQ}, token.GEQ: {token.LSS},
	token.EQL: {token.NEQ}, token.NEQ: {token.EQL},
	token.ADD: {token.SUB}, token.SUB: {token.ADD}, token.MUL: {token.QUO}, token.QUO: {token.MUL}, token.REM: {token.MUL},
	token.LAND: {token.LOR}, token.LOR: {token.LAND},
}

// bounds are comparisons that differ in the bound itself: tried on whole numbers only,
// since among measured values hardly any lies on it.
var bounds = map[token.Token]token.Token{token.LSS: token.LEQ, token.LEQ: token.LSS, token.GTR: token.GEQ, token.GEQ: token.GTR}

// twins are functions that are taken for each other.
var twins = map[string]string{"min": "max", "max": "min", "Sin": "Cos", "Cos": "Sin", "Floor": "Ceil", "Ceil": "Floor", "Abs": "Ceil"}

// mutantsOf are all faults that can be put into a room's code.
func mutantsOf(room string) ([]mutant, error) {
	files, err := sources(room)
	if err != nil {
		return nil, err
	}
	var all []mutant
	for _, path := range files {
		src, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, path, src, 0)
		if err != nil {
			return nil, err
		}
		put := func(kind string, from, to token.Pos, with string) {
			p := set.Position(from)
			at, end := p.Offset, set.Position(to).Offset
			all = append(all, mutant{result{File: filepath.ToSlash(path), Line: p.Line, Column: p.Column, Kind: kind,
				From: string(src[at:end]), To: with}, at, end, with})
		}
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil {
				continue // constants and tables: tolerances, texts, colours
			}
			ast.Inspect(fn.Body, func(n ast.Node) bool { return faults(n, put, src, set) })
		}
	}
	return all, nil
}

// faults are those of one node; false: do not look below it.
func faults(n ast.Node, put func(kind string, from, to token.Pos, with string), src []byte, set *token.FileSet) bool {
	text := func(n ast.Node) string { return string(src[set.Position(n.Pos()).Offset:set.Position(n.End()).Offset]) }
	switch n := n.(type) {
	case *ast.BinaryExpr:
		if isText(n.X) || isText(n.Y) {
			return true
		}
		ops := swaps[n.Op]
		if b, ok := bounds[n.Op]; ok && (whole(n.X) || whole(n.Y)) {
			ops = append([]token.Token{b}, ops...)
		}
		for _, op := range ops {
			put("operator", n.OpPos, n.OpPos+token.Pos(len(n.Op.String())), op.String())
		}
	case *ast.UnaryExpr:
		if n.Op == token.SUB || n.Op == token.NOT {
			put("sign", n.Pos(), n.Pos()+1, "")
		}
	case *ast.IfStmt:
		put("condition", n.Cond.Pos(), n.Cond.End(), "!("+text(n.Cond)+")")
	case *ast.CallExpr:
		switch fun := n.Fun.(type) {
		case *ast.Ident:
			if twin, ok := twins[fun.Name]; ok {
				put("function", fun.Pos(), fun.End(), twin)
			}
		case *ast.SelectorExpr:
			if twin, ok := twins[fun.Sel.Name]; ok {
				put("function", fun.Sel.Pos(), fun.Sel.End(), twin)
			}
		}
	case *ast.AssignStmt:
		if n.Tok == token.ADD_ASSIGN || n.Tok == token.SUB_ASSIGN {
			if len(n.Rhs) == 1 && isText(n.Rhs[0]) {
				return true
			}
			op := map[token.Token]string{token.ADD_ASSIGN: "-=", token.SUB_ASSIGN: "+="}[n.Tok]
			put("operator", n.TokPos, n.TokPos+2, op)
		}
		if n.Tok == token.ASSIGN {
			gone := &bytes.Buffer{} // values stay used, so that it compiles
			for i, r := range n.Rhs {
				if i > 0 {
					gone.WriteString("; ")
				}
				gone.WriteString("_ = ")
				_ = printer.Fprint(gone, set, r)
			}
			if len(n.Lhs) == len(n.Rhs) {
				put("statement", n.Pos(), n.End(), gone.String())
			}
		}
	case *ast.ExprStmt:
		put("statement", n.Pos(), n.End(), "")
	case *ast.BasicLit:
		if n.Kind == token.INT {
			if v, err := strconv.Atoi(n.Value); err == nil && v <= 16 {
				put("number", n.Pos(), n.End(), strconv.Itoa(v+1))
			}
		}
	case *ast.BranchStmt:
		if n.Label == nil && n.Tok == token.CONTINUE {
			put("branch", n.Pos(), n.End(), "break")
		}
	case *ast.Ident:
		switch n.Name {
		case "true":
			put("truth", n.Pos(), n.End(), "false")
		case "false":
			put("truth", n.Pos(), n.End(), "true")
		}
	}
	return true
}

func isText(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.BasicLit:
		return e.Kind == token.STRING || e.Kind == token.CHAR
	case *ast.BinaryExpr:
		return isText(e.X) || isText(e.Y)
	}
	return false
}

// whole says whether an expression is a whole number as far as it shows.
func whole(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.BasicLit:
		return e.Kind == token.INT && e.Value != "0" // x < 0 is mostly a measure
	case *ast.CallExpr:
		id, ok := e.Fun.(*ast.Ident)
		return ok && id.Name == "len"
	case *ast.Ident:
		return e.Name == "i" || e.Name == "j" || e.Name == "k" || e.Name == "n"
	case *ast.BinaryExpr:
		return whole(e.X) || whole(e.Y)
	}
	return false
}
