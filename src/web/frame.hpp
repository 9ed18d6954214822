// SPDX-License-Identifier: Apache-2.0
// What all pages share: the frame around them, the way a state, a row, a number and a form look.
#pragma once

#include "drawing/row.hpp"
#include "drawing/scene.hpp"
#include "job/today/today.hpp"
#include "report/common.hpp"
#include "web/desk.hpp"
#include "web/page.hpp"

namespace guidepin::web {

/// The whole page around `body`. A part made by live() follows every change by itself.
Reply framed(Desk& desk, Exchange const& exchange, std::string_view title, Html const& body);
/// `body`, fetched again from `address` whenever something was written.
Html live(std::string_view id, std::string_view address, Html const& body);
Reply failure_page(Desk& desk, Exchange const& exchange, Error const& error, int status);

/// "/link?id=…"
std::string link_address(std::string_view id);

/// Begins a form that changes something: address and token. Close with end_form().
Html form(Exchange const& exchange, std::string_view address, std::string_view more_classes = {});
/// The same, kept in the browser until the server has it.
Html kept_form(Exchange const& exchange, std::string_view address, std::string_view what);
Html end_form();

drawing::Standing standing_of(std::string_view state);
/// A sign and the word, in the state's colour.
Html state_mark(drawing::Standing standing);
Html state_mark(std::string_view state);
Html drawn(drawing::Scene const& scene);
/// As wide as its place allows.
Html drawn_grown(drawing::Scene const& scene);
/// Two that fill the width they have: for a phone, whose labels would be too small on the other, and for a
/// desk.
Html drawn_both_grown(drawing::Scene const& narrow, drawing::Scene const& wide);
/// One of the two, by the width of the page.
Html drawn_both(drawing::Scene const& narrow, drawing::Scene const& wide);
/// Scrolls sideways in its own box, so that the page does not.
Html drawn_wide(drawing::Scene const& scene, std::string_view name);
/// Links by state as one bar, and in words.
drawing::Scene counts_bar(std::string const& name, job::StateCounts const& counts, double width,
                          double height = 14);
std::string counts_text(job::StateCounts const& counts);

/// A caption over a value.
Html fact(std::string_view caption, Html const& value);
Html fact(std::string_view caption, std::string_view value);
Html said_list(std::vector<report::Said> const& said);
/// One choice of a list; "" as value is none.
Html option(std::string_view value, std::string_view words, bool chosen);
Html notice(std::string_view kind, std::string_view text); ///< "good", "bad", "hint"
/// The one form of a moment on a page, in the job's zone and locale: "2026-03-03 11:27 UTC+01:00".
std::string date_time(Desk const& desk, Instant const& at);
/// The same with the exact moment for programs that read the page.
Html time_mark(Desk const& desk, Instant const& at);
/// The hour and minute alone, in the job's zone, for what happens today.
std::string time_of_day(Desk const& desk, Instant const& at);
/// Returns the sentence with each ISO time in it written as date_time() does (job/sheet/locale.hpp).
std::string with_times(Desk const& desk, std::string_view sentence);

/// A number as typed, with the decimal mark of the job or a point.
std::optional<double> typed_number(std::string_view text);

/// The field "taken": when a form was filled in, which counts, not when the network came back. Nothing if the
/// form says none. Errors: invalid_input if the device's clock is too far ahead.
Result<std::optional<Instant>> typed_at(Desk const& desk, Exchange const& exchange);

} // namespace guidepin::web
