// SPDX-License-Identifier: Apache-2.0
// Oracle: the format as docs/formats/rule-set.md states it; each broken file names its own line.
#include "facts/tables.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

namespace guidepin::facts {
namespace rule_set_test {

using ::testing::HasSubstr;
using ::testing::Not;

Result<RuleSet> loaded(std::string const& text)
{
    return load_rule_set(NamedText{"own.toml", text}, built_in_tables());
}

std::string file_text(std::string const& path)
{
    std::ifstream file{std::string{GUIDEPIN_SOURCE_DIR} + "/" + path};
    EXPECT_TRUE(file) << path;
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

/// A whole small rule set; line 1 is the format, line 9 the first coefficient.
std::string const small = R"(format = "guidepin-facts"
kind = "rule-set"
[sources]
mine = { document = "Annex", edition = "1" }
[rule-set]
id = "own"
title = "Our own"
source = "mine"
[[coefficient]]
category = "OM4"
wavelength = 850
value = 2.9
unit = "dB/km"
source = "mine"
basis = "standard"
[[end-connection]]
cords = "reference"
fibre = "multimode"
value = 0.4
unit = "dB"
source = "mine"
basis = "standard"
[[reference-joint]]
cords = "reference"
fibre = "multimode"
value = 0.1
unit = "dB"
source = "mine"
basis = "standard"
[inner-connection]
value = 0.35
unit = "dB"
source = "mine"
basis = "standard"
[splice]
value = 0.2
unit = "dB"
source = "mine"
basis = "standard"
[[wavelength]]
fibre = "multimode"
value = 850
unit = "nm"
source = "mine"
basis = "standard"
)";

std::string replaced(std::string text, std::string const& what, std::string const& with)
{
    auto const at = text.find(what);
    EXPECT_NE(at, std::string::npos) << what;
    return at == std::string::npos ? text : text.replace(at, what.size(), with);
}

TEST(RuleSetFile, WholeOneIsRead)
{
    auto const rules = loaded(small);
    ASSERT_TRUE(rules) << rules.error().message;
    EXPECT_EQ(rules->id, "own");
    EXPECT_EQ(rules->coefficient("OM4", 850_nm)->value, 2.9);
    EXPECT_EQ(rules->coefficient("OM4", 850_nm)->id, "own.coefficient.OM4.850");
    EXPECT_EQ(rules->coefficient("OM4", 1300_nm), nullptr);
    EXPECT_EQ((rules->end_connection.at({CordGrade::reference, FibreKind::multimode}).value), 0.4);
    EXPECT_EQ(rules->splice.value, 0.2);
    EXPECT_EQ(rules->facts().size(), 6u);
}

TEST(RuleSetFile, TellsAllThatIsWrongAtOnceByLine)
{
    auto text = replaced(small, "value = 2.9", "value = \"2.9\""); // line 12
    text = replaced(text, "fibre = \"multimode\"\nvalue = 0.4",
                    "fibre = \"multi\"\nvalue = 0.4"); // line 16: the table
    text = replaced(text, "unit = \"dB\"\nsource = \"mine\"\nbasis = \"standard\"\n[splice]",
                    "unit = \"dB/km\"\nsource = \"mine\"\nbasis = \"sure\"\n[splice]"); // lines 30 and 34
    text += "wavelenght = 3\n";                                                         // line 46
    auto const rules = loaded(text);
    ASSERT_FALSE(rules);
    EXPECT_EQ(rules.error().code, Errc::invalid_input);
    auto const& message = rules.error().message;
    EXPECT_THAT(message, HasSubstr("own.toml:12: coefficient: `value` is a text, not a finite number"));
    EXPECT_THAT(message,
                HasSubstr("own.toml:16: end-connection: fibre `multi` is neither multimode nor single-mode"));
    EXPECT_THAT(message,
                HasSubstr("own.toml:30: rule set, inner-connection: unit `dB/km`; this value is in dB"));
    EXPECT_THAT(message, HasSubstr("own.toml:34: rule set, inner-connection: basis `sure` is none of"));
    EXPECT_THAT(message, HasSubstr("own.toml:46: wavelength: `wavelenght` is not known here"));
}

struct Broken
{
    char const* what;
    char const* with;
    char const* message;
};

TEST(RuleSetFile, RefusesEachFlawWithItsLine)
{
    Broken const flaws[] = {
        {"basis = \"standard\"\n[[end", "[[end", "own.toml:9: coefficient: no `basis`"},
        {"source = \"mine\"\nbasis = \"standard\"\n[[end", "basis = \"standard\"\n[[end",
         "own.toml:9: coefficient: no `source`"},
        {"unit = \"dB/km\"\n", "", "own.toml:9: coefficient: no `unit`"},
        {"source = \"mine\"\n[[coeff", "source = \"mind\"\n[[coeff",
         "own.toml:8: [rule-set]: no [sources.mind] in this file; did you mean mine?"},
        {"value = 2.9", "value = 290.0", "own.toml:9: coefficient: value 290 dB/km lies outside 0 to 50"},
        {"value = 2.9", "value = nan", "own.toml:12: coefficient: `value` is a number, not a finite number"},
        {"value = 2.9", "value = -2.9", "own.toml:9: coefficient: value -2.9 dB/km lies outside 0 to 50"},
        {"category = \"OM4\"", "category = \"OM44\"",
         "own.toml:9: coefficient: No fibre category `OM44`; did you mean OM4"},
        {"wavelength = 850", "wavelength = 85",
         "own.toml:11: coefficient: `wavelength` is not a whole number from 600"},
        {"edition = \"1\"", "edition = \"\"", "own.toml:4: source `mine`: no `edition`"},
        {"title = \"Our own\"\n", "title = \"Our own\"\nbased-on = \"tia-568.3-f\"\n",
         "own.toml:5: [rule-set]: No rule set `tia-568.3-f`; did you mean tia-568.3-"},
        {"id = \"own\"", "id = \"our own\"", "own.toml:5: [rule-set]: id `our own`: use letters"},
        {"[splice]\nvalue = 0.2\nunit = \"dB\"\nsource = \"mine\"\nbasis = \"standard\"\n", "",
         "no [splice]"},
        {"[[reference-joint]]", "[[end-connection]]", "reference multimode is given twice; keep one"},
        {"kind = \"rule-set\"", "kind = \"colours\"", "kind `colours`; a rule set says"},
        {"format = \"guidepin-facts\"\n", "", "no `format`"},
        {"[[coefficient]]", "[coefficient]",
         "own.toml:9: rule set: `coefficient` is a table; write [[coefficient]] for each"},
        {"[rule-set]", "[rule-set", "own.toml:5: not TOML"},
        {"value = 2.9\n", "value = 2.9\ntext = \"much\"\n", "has both `value` and `text`; keep one"},
    };
    for (auto const& flaw : flaws) {
        auto const rules = loaded(replaced(small, flaw.what, flaw.with));
        ASSERT_FALSE(rules) << flaw.with;
        EXPECT_THAT(rules.error().message, HasSubstr(flaw.message));
    }
}

// Regression: a letter such as é outside quotes led toml++ 3.3 into an unreachable branch (found by
// fuzz_rule_set).
TEST(RuleSetFile, LettersOutsideAsciiBelongInQuotesOrComments)
{
    auto const stray = loaded(replaced(small, "title =", "é = 1\ntitle ="));
    ASSERT_FALSE(stray);
    EXPECT_THAT(stray.error().message, HasSubstr("own.toml:7: not TOML:"));
    auto const titled = [](char const* title) { return loaded(replaced(small, "\"Our own\"", title)); };
    EXPECT_TRUE(titled("\"Été \\\"à\\\" Genève\" # à nous"));
    EXPECT_TRUE(titled("\"\"\"É\nà\"\"\"\"\" # é"));
    EXPECT_EQ(titled("\"Été ß € 例 🙂\"")->title, "Été ß € 例 🙂");
    EXPECT_FALSE(titled("2\"\xEF\xBB\x9F i7"));   // a presentation form right after a broken number
    EXPECT_FALSE(titled("\"\xF3\xB0\x83\xA9\"")); // a letter of plane 15
    EXPECT_TRUE(titled("'''É\\'''"));
    EXPECT_TRUE(loaded("\xEF\xBB\xBF" + small));
    auto const after = titled("\"Our own\" é");
    ASSERT_FALSE(after);
    EXPECT_THAT(after.error().message, HasSubstr("own.toml:7:"));
}

TEST(RuleSetFile, SimpleCountNeedsNoReferenceJoint)
{
    auto const start = small.find("[[reference-joint]]");
    auto const end = small.find("[inner-connection]");
    std::string text = small;
    text.erase(start, end - start);
    auto const without = loaded(text);
    ASSERT_FALSE(without);
    EXPECT_THAT(without.error().message,
                HasSubstr("no [[reference-joint]] for reference-grade cords, multimode"));
    EXPECT_TRUE(loaded(replaced(text, "title =", "simple-count = true\ntitle =")));
}

TEST(RuleSetFile, ContractOfTheDemoOverridesWhatItNamesAndKeepsTheRest)
{
    auto const rules = load_rule_set(NamedText{"contract-rules.toml", file_text("demo/contract-rules.toml")},
                                     built_in_tables());
    ASSERT_TRUE(rules) << rules.error().message;
    auto const& base = **built_in_tables().rule_set("tia-568.3-e");
    EXPECT_EQ(rules->coefficient("OM4", 850_nm)->value, 2.8);
    EXPECT_EQ(rules->coefficient("OM4", 850_nm)->source.document, "Contract 2031-07, technical annex");
    EXPECT_EQ(rules->coefficient("OM3", 850_nm)->value, base.coefficient("OM3", 850_nm)->value);
    EXPECT_EQ(rules->coefficient("OM3", 850_nm)->source.text(), "TIA-568.3-E (2022)");
    EXPECT_EQ(rules->coefficient("OM3", 850_nm)->id, "contract-2031-07.coefficient.OM3.850");
    EXPECT_EQ(rules->inner_connection.value, 0.35);
    EXPECT_EQ(rules->splice.value, base.splice.value);
    EXPECT_EQ(rules->wavelengths.at(FibreKind::multimode).size(), 2u);
    EXPECT_EQ(rules->wavelengths.at(FibreKind::single_mode).size(), 2u); // kept from the base
    EXPECT_EQ((rules->end_connection.at({CordGrade::standard, FibreKind::multimode}).value), 0.75);
    EXPECT_EQ(rules->coefficients.size(), base.coefficients.size());
}

TEST(RuleSetFile, FirstWavelengthIsRequiredAndThoseThatSaySo)
{
    std::string const more = small + R"([[wavelength]]
fibre = "multimode"
value = 953
unit = "nm"
source = "mine"
basis = "standard"
note = "on request; not required"
[[wavelength]]
fibre = "multimode"
value = 1300
unit = "nm"
source = "mine"
basis = "standard"
required = true
)";
    auto const required = [](Result<RuleSet> const& rules) {
        std::vector<bool> flags;
        for (auto const& each : rules->wavelengths.at(FibreKind::multimode)) flags.push_back(each.required);
        return flags;
    };
    auto const rules = loaded(more);
    ASSERT_TRUE(rules) << rules.error().message;
    EXPECT_EQ(required(rules), (std::vector{true, false, true}));
    // Files from before the member existed.
    auto const by_note = loaded(replaced(more, "required = true", "note = \"required: one of the two\""));
    ASSERT_TRUE(by_note) << by_note.error().message;
    EXPECT_EQ(required(by_note), (std::vector{true, false, true}));
    EXPECT_FALSE(loaded(replaced(more, "required = true", "required = \"yes\"")));
}

TEST(RuleSetFile, FormatInTheDocumentIsTheContractOfTheDemo)
{
    EXPECT_THAT(file_text("docs/formats/rule-set.md"), HasSubstr(file_text("demo/contract-rules.toml")));
}

TEST(RuleSetFile, OneMoreSetIsFoundListedAndChangesTheVersion)
{
    auto const own = loaded(small);
    ASSERT_TRUE(own);
    Tables const with = with_rule_set(built_in_tables(), *own);
    ASSERT_TRUE(with.rule_set("own"));
    EXPECT_EQ(with.rule_sets.size(), built_in_tables().rule_sets.size() + 1);
    ASSERT_NE(with.fact("own.splice"), nullptr);
    EXPECT_NE(with.version, built_in_tables().version);
    EXPECT_EQ(with.version.size(), 16u);

    auto const tighter = loaded(replaced(small, "value = 0.2", "value = 0.1"));
    ASSERT_TRUE(tighter);
    Tables const again = with_rule_set(with, *tighter);
    EXPECT_EQ(again.rule_sets.size(), with.rule_sets.size());
    EXPECT_EQ(again.facts.size(), with.facts.size());
    EXPECT_EQ(again.fact("own.splice")->value, 0.1);
    EXPECT_NE(again.version, with.version);
}

} // namespace rule_set_test
} // namespace guidepin::facts
