#include "runner/hints/report_hints.hpp"

#include "runner/hints/hint_text.hpp"
#include "runner/papers/number_text.hpp"

#include <string>

namespace afterload::runner {

namespace {

void row(Html& html, const char* word, const std::string& text) {
    html.open("tr");
    html.element("th", {{"scope", "row"}}, word);
    html.open("td").outside(page(text), longest_hint_text).close();
    html.close();
}

void put_hint(Html& html, const Hint& hint) {
    html.open("table", {{"class", "facts"}});
    html.open("caption").outside(page(hint_line(hint)), longest_hint_text).close();
    html.open("tbody");
    row(html, "Usually", hint.usually);
    for (const std::string& line : hint.evidence) {
        row(html, "For it", line);
    }
    for (const std::string& line : hint.counter_evidence) {
        row(html, "Against it", line);
    }
    row(html, "This tells", hint.separates);
    for (const std::string& caution : hint.cautions) {
        row(html, "Caution", caution);
    }
    html.close().close();
}

}  // namespace

void put_hints(Html& html, const Hints& hints) {
    if (hints.hints.empty()) {
        return;
    }
    html.open("section", {{"aria-labelledby", "hints"}});
    html.element("h2", {{"id", "hints"}}, "Where to look first");
    html.element(
        "p", {{"class", "key-line"}},
        "What such figures usually mean, for the bench. Nothing here says what to replace: "
        "one test stands beside each, which tells it from what looks alike.");
    for (const Hint& hint : hints.hints) {
        put_hint(html, hint);
    }
    if (!hints.set_aside.empty()) {
        html.element("p", {{"class", "key-line"}},
                     "Set aside, since what comes before would do the same; measure again first:");
        html.open("ul", {{"class", "key-line"}});
        for (const Hint& hint : hints.set_aside) {
            html.open("li").outside(page(hint_line(hint)), longest_hint_text).close();
        }
        html.close();
    }
    html.close();
}

}  // namespace afterload::runner
