module balk/page

go 1.26.3

require github.com/evanw/esbuild v0.28.2

require golang.org/x/sys v0.0.0-20220715151400-c0bba94af5f8 // indirect
