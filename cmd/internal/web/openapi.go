package web

import (
	"encoding/json"
	"net/http"
	"reflect"
	"regexp"
	"strings"
)

// anything is JSON without a form of its own.
type anything = map[string]any

// describe gives the interface in OpenAPI 3.1, made from the table of routes and the types of the answers.
func describe(_ *shelf, w http.ResponseWriter, _ *http.Request) error {
	paths := anything{}
	for _, r := range table {
		at, _ := paths[strings.TrimSuffix(r.path, "{$}")].(anything)
		if at == nil {
			at = anything{}
			paths[strings.TrimSuffix(r.path, "{$}")] = at
		}
		at[strings.ToLower(r.method)] = r.described()
	}
	return give(w, anything{
		"openapi":  "3.1.0",
		"info":     anything{"title": "balk serve", "version": "1", "description": "What the page of balk serve asks. Whatever it answers can be had from commands of balk."},
		"paths":    paths,
		"security": []anything{{"cookie": []string{}}, {"bearer": []string{}}, {"address": []string{}}},
		"components": anything{"securitySchemes": anything{
			"cookie":  anything{"type": "apiKey", "in": "cookie", "name": "balk-PORT"},
			"bearer":  anything{"type": "http", "scheme": "bearer"},
			"address": anything{"type": "apiKey", "in": "query", "name": tokenName},
		}},
	})
}

// named are the members of a path that are names.
var named = regexp.MustCompile(`\{(\w+)\}`)

func (r route) described() anything {
	params := []anything{}
	for _, m := range named.FindAllStringSubmatch(r.path, -1) {
		params = append(params, anything{"name": m[1], "in": "path", "required": true, "schema": anything{"type": "string"}})
	}
	for _, p := range r.params {
		if p == supposition {
			for _, name := range supposable {
				params = append(params, anything{"name": name, "in": "query", "description": "as --" + name + " of balk check", "schema": anything{"type": "string"}})
			}
			continue
		}
		params = append(params, anything{"name": p.name, "in": "query", "description": p.about, "schema": anything{"type": "string"}})
	}
	content := anything{}
	if r.gives != "" {
		form := anything{}
		if r.form != nil && r.gives == "application/json" {
			form = schemaOf(reflect.TypeOf(r.form))
		}
		content[r.gives] = anything{"schema": form}
	}
	ok := anything{"description": "done"}
	status := "204"
	if len(content) > 0 {
		ok["content"], status = content, "200"
	}
	problem := anything{"description": "why not, in the words of the command line", "content": anything{"application/json": anything{"schema": schemaOf(reflect.TypeFor[Problem]())}}}
	out := anything{"summary": r.about, "parameters": params, "responses": anything{status: ok, "default": problem}}
	if r.takes != "" {
		out["requestBody"] = anything{"required": true, "content": anything{r.takes: anything{"schema": anything{"type": "object"}}}}
	}
	return out
}

// schemaOf is the JSON Schema of a type as encoding/json writes it.
func schemaOf(t reflect.Type) anything {
	if t == reflect.TypeFor[json.RawMessage]() {
		return anything{}
	}
	switch t.Kind() {
	case reflect.Pointer: // of a member that may be left out
		return schemaOf(t.Elem())
	case reflect.String:
		return anything{"type": "string"}
	case reflect.Bool:
		return anything{"type": "boolean"}
	case reflect.Int, reflect.Int64:
		return anything{"type": "integer"}
	case reflect.Float64:
		return anything{"type": "number"}
	case reflect.Slice, reflect.Array:
		return anything{"type": "array", "items": schemaOf(t.Elem())}
	case reflect.Map:
		return anything{"type": "object", "additionalProperties": schemaOf(t.Elem())}
	case reflect.Struct:
		members, required := anything{}, []string{}
		for f := range t.Fields() {
			name, how, _ := strings.Cut(f.Tag.Get("json"), ",")
			if name == "" {
				name = f.Name
			}
			members[name] = schemaOf(f.Type)
			if how == "" {
				required = append(required, name)
			}
		}
		return anything{"type": "object", "properties": members, "required": required}
	}
	panic("web: no form for " + t.String())
}
