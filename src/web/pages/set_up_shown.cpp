// SPDX-License-Identifier: Apache-2.0
// A set-up as a page shows it: line of light, limits of the cord check, steps, other methods, plugs.
#include "web/pages/set_up_parts.hpp"

#include "base/text.hpp"
#include "drawing/end_face.hpp"
#include "job/plan/set_up_drawings.hpp"
#include "job/sheet/locale.hpp"

#include <fmt/format.h>

namespace guidepin::web {

namespace {

/// Returns the text with a minus sign for each hyphen before a number. The numbers of a set-up are sentences
/// of its record, which is the same for the command line and the page.
std::string with_minus(std::string_view text)
{
    std::string shown;
    for (std::size_t i = 0; i < text.size(); ++i) {
        bool const sign = text[i] == '-' && (i == 0 || text[i - 1] == ' ') && i + 1 < text.size() &&
                          text[i + 1] >= '0' && text[i + 1] <= '9';
        shown += sign ? std::string("−") : std::string(1, text[i]);
    }
    return shown;
}

Html methods_table(job::SolvedSetup const& solved)
{
    Html rows;
    for (job::MethodRow const& row : solved.methods) {
        std::string const changes = row.cost ? fmt::format("{}", row.cost->pin_changes) : "–";
        std::string const matings = row.cost ? fmt::format("{}", row.cost->reference_matings) : "–";
        std::string const note = row.chosen      ? "chosen"
                                 : !row.cost     ? "not possible with this kit"
                                 : row.permitted ? ""
                                                 : "not permitted by the job";
        rows += html(R"(<tr><th scope="row">{}</th><td class="number" data-label="Pin changes">{}</td>)"
                     R"(<td class="number" data-label="Matings">{}</td>)"
                     R"(<td class="number" data-label="Joints hidden">{}</td>)"
                     R"(<td class="number" data-label="U, k = 2">{} dB</td>)"
                     R"(<td data-label="Remark">{}</td></tr>)"
                     "\n",
                     setup::words_of(row.shadow.arrangement), changes, matings, row.shadow.joints_removed,
                     solved.locale.number(row.expanded_uncertainty.value(), 2), note);
    }
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Other methods">)"
                R"(<table class="tight cards"><thead><tr><th scope="col">Method</th>)"
                R"(<th scope="col" class="number">Pin changes</th>)"
                R"(<th scope="col" class="number">Matings</th>)"
                R"(<th scope="col" class="number">Joints hidden</th>)"
                R"(<th scope="col" class="number">U, k = 2</th><th scope="col">)"
                R"(<span class="sr">Remark</span></th></tr></thead><tbody>{}</tbody></table></div>)"
                "\n",
                rows);
}

} // namespace

Html line_of_light(drawing::LightPath const& path)
{
    return drawn_both(drawing::light_path_drawing(path, 330), drawing::light_path_drawing(path, 960));
}

Html numbers_list(std::vector<report::CardNumber> const& numbers)
{
    Html rows;
    for (report::CardNumber const& number : numbers)
        rows += html(R"(<tr><th scope="row">{}</th><td><strong>{}</strong></td><td>{}</td></tr>)"
                     "\n",
                     with_minus(number.what), with_minus(number.accept), with_minus(number.refuse));
    if (rows.empty()) return rows;
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Numbers of the cord )"
                R"(check"><table><thead><tr><th scope="col">Cord check</th>)"
                R"(<th scope="col">Accept</th><th scope="col">Refuse</th></tr></thead>)"
                "<tbody>{}</tbody></table></div>\n",
                rows);
}

Html step_words(setup::Step const& step)
{
    return html("<p><strong>{}</strong> {}</p>{}{}", fmt::format("{}.", step.number), step.text,
                step.look_for.empty() ? Html{} : html(R"(<p class="quiet">Look for: {}</p>)", step.look_for),
                step.if_not.empty() ? Html{} : html(R"(<p class="quiet">If not: {}</p>)", step.if_not));
}

Html set_up_cautions()
{
    Html list;
    for (setup::Caution const& each : setup::cautions()) list += html("<li>{}</li>\n", each.text);
    return html(R"(<details class="do"><summary>Cautions</summary><ul>{}</ul></details>)"
                "\n",
                list);
}

Html set_up_details(job::SetupSheet const& sheet, job::SolvedSetup const& solved)
{
    Html body =
        html("{}<h3>Other methods with the same kit</h3>\n{}", said_list(sheet.facts), methods_table(solved));
    for (job::SheetPhase const& phase : sheet.phases) {
        Html steps;
        for (setup::Step const& step : phase.steps)
            steps += html("<li><div>{}</div></li>\n", step_words(step));
        body +=
            html("<section><h2>{}</h2>{}{}<details><summary>{} step{}</summary>"
                 R"(<ol class="steps">{}</ol></details></section>)"
                 "\n",
                 job::title_of(phase.phase), phase.path ? line_of_light(*phase.path) : Html{},
                 numbers_list(phase.numbers), phase.steps.size(), plural_ending(phase.steps.size()), steps);
    }
    Html faces;
    for (drawing::EndFace const& face : job::end_faces_of(solved))
        faces += html("<figure><figcaption>{}</figcaption>{}</figure>\n", face.name,
                      drawn(drawing::end_face_drawing(face, 300)));
    return body +
           html(R"(<details class="do"><summary>The plugs, seen end-on with the key up</summary>)"
                R"(<div class="faces">{}</div></details>)"
                "\n",
                faces) +
           set_up_cautions();
}

Html unsolved_notice(job::UnsolvedGroup const& each)
{
    std::string text = each.links.empty()
                           ? std::string("No set-up is possible. ")
                           : fmt::format("No set-up for {} link{} ({}): ", each.links.size(),
                                         plural_ending(each.links.size()), job::links_text(each.links, 4));
    text += each.reason;
    if (!each.remedy.empty()) text += " Borrow or buy: " + each.remedy + ".";
    for (std::string const& way : each.ways)
        text += fmt::format(" {} {}.", each.remedy.empty() ? "Possible:" : "Or:", way);
    return notice("hint", text);
}

} // namespace guidepin::web
