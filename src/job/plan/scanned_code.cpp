// SPDX-License-Identifier: Apache-2.0
#include "job/plan/scanned_code.hpp"

#include "base/text.hpp"
#include "job/plan/set_up_progress.hpp"

#include <algorithm>
#include <set>

namespace guidepin::job {

namespace {

constexpr std::string_view of_record = "guidepin:sha256:"; ///< report::qr_text, in small letters
constexpr std::size_t longest_code = 4296; ///< letters in the largest code of ISO/IEC 18004, version 40-L

/// The link that is called so, or the only one that is but for the case of its letters.
std::string const* link_called(JobState const& state, std::string_view name)
{
    if (name.empty()) return nullptr;
    auto const exact = state.link_index.find(std::string(name));
    if (exact != state.link_index.end()) return &exact->first;
    std::string const small = lowered(name);
    std::string const* only = nullptr;
    for (plant::LinkSpec const& link : state.links) {
        if (link.id.size() != small.size() || lowered(link.id) != small) continue;
        if (only) return nullptr;
        only = &link.id;
    }
    return only;
}

/// %41 as A, and a plus sign as the space that it is in an address.
std::string unescaped(std::string_view text)
{
    auto const digit = [](char c) {
        return c >= '0' && c <= '9'   ? c - '0'
               : c >= 'a' && c <= 'f' ? c - 'a' + 10
               : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                      : -1;
    };
    std::string plain;
    for (std::size_t i = 0; i < text.size(); ++i) {
        bool const escape =
            text[i] == '%' && i + 2 < text.size() && digit(text[i + 1]) >= 0 && digit(text[i + 2]) >= 0;
        if (escape) {
            plain += static_cast<char>(digit(text[i + 1]) * 16 + digit(text[i + 2]));
            i += 2;
        } else {
            plain += text[i] == '+' ? ' ' : text[i];
        }
    }
    return plain;
}

/// Every link whose id is one of the parts between these marks.
void links_between(JobState const& state, std::string_view text, std::string_view marks,
                   std::set<std::string>& found)
{
    while (!text.empty()) {
        std::size_t const end = std::min(text.find_first_of(marks), text.size());
        std::string_view const part = trimmed(text.substr(0, end));
        if (auto const* const link = link_called(state, part)) found.insert(*link);
        if (auto const* const link = link_called(state, unescaped(part))) found.insert(*link);
        text.remove_prefix(std::min(end + 1, text.size()));
    }
}

std::optional<ScannedCode> by_record(JobState const& state, std::string_view hash)
{
    auto const test = std::find_if(state.tests.rbegin(), state.tests.rend(),
                                   [&](TestEntry const& each) { return each.hash == hash; });
    if (test != state.tests.rend()) return ScannedCode{test->link, {}};
    if (ChosenSetup const* const setup = find_setup(state, hash)) return ScannedCode{{}, setup->hash};
    return std::nullopt;
}

} // namespace

std::optional<ScannedCode> meaning_of_code(JobState const& state, std::string_view text)
{
    text = trimmed(text.substr(0, longest_code));
    if (auto const* const link = link_called(state, text)) return ScannedCode{*link, {}};
    std::string const small = lowered(text);
    if (small.starts_with(of_record))
        return by_record(state, std::string_view(small).substr(of_record.size()));
    std::set<std::string> found;
    for (std::string_view const marks : {"\n\r\t;|,", "\n\r\t ;|,?&=#\"'()[]"}) {
        links_between(state, text, marks, found);
        if (!found.empty()) break; // an id may hold a space or a sign of the second kind
    }
    if (found.size() != 1) return std::nullopt;
    return ScannedCode{*found.begin(), {}};
}

} // namespace guidepin::job
