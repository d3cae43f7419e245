// Package help is what balk tells about itself: a page per verb and per topic, written once as Markdown in
// topics and shown on the terminal and in man pages.
//
// A page begins with "# " and its title. It uses paragraphs, lists with "- ", tables, fenced blocks,
// `code`, *stressed* and **strong**; lines are short enough for a terminal, and code stays on one line.
package help
