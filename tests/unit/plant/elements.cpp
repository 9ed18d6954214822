// SPDX-License-Identifier: Apache-2.0
// Oracle: round trips, and messages that must name element, value and what is allowed
// (docs/formats/elements.md).
#include "chain_text.hpp"
#include "cord_table_text.hpp"
#include "plant/chain.hpp"
#include "plant/cord_table.hpp"
#include "plant/link_model.hpp"
#include "plant/map_view.hpp"
#include "plant/presets.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::plant {
namespace elements_test {

using testing::AllOf;
using testing::HasSubstr;

constexpr char const* two_legs = R"(name = "24 to two 12"
map = ["1-12 -> 1:1-12", "13-24 -> 2:12-1"]
[[near]]
family = "mpo-24"
pins = "unpinned"
[[far]]
family = "mpo-12"
[[far]]
family = "mpo-12"
)";
constexpr char const* three_eights =
    R"(map = ["1:1-4 -> 1:1-4", "1:5-8 -> 1:9-12", "1:9-12 -> 2:1-4", "2:1-4 -> 2:9-12",
       "2:5-8 -> 3:1-4", "2:9-12 -> 3:9-12"]
[[near]]
family = "mpo-12"
[[near]]
family = "mpo-12"
[[far]]
family = "mpo-12"
[[far]]
family = "mpo-12"
[[far]]
family = "mpo-12"
)";

ChainOptions with_tables(char const* family = "mpo-12")
{
    ChainOptions options;
    options.family = parse_family(family).value();
    options.tables = [](std::string const& name) -> Result<std::string> {
        if (name == "legs.toml") return std::string{two_legs};
        if (name == "eights.toml") return std::string{three_eights};
        return Error{Errc::not_found, "No file '" + name + "'."};
    };
    return options;
}

TEST(Elements, ReadBackFromTheirText)
{
    for (char const* text :
         {"port:aligned", "port:duplex", "cord:B",
          "trunk:A,fibres=1-4+9-12,pins=pu,face=angled,slope=up,turn=both", "adapter:opposed",
          "module:U1,adapter=aligned", "harness:breakout-4,pins=u", "duplex:A-to-B",
          "cord:legs.toml,reversed", "trunk:I-B,family=mpo-24,turn=far"}) {
        Result<Element> const element = parse_element(text);
        ASSERT_TRUE(element) << text << ": " << element.error().message;
        EXPECT_EQ(element->text(), text);
        EXPECT_EQ(*parse_element(element->text()), *element);
    }
}

TEST(Elements, MessagesNameElementValueAndWhatIsAllowed)
{
    struct Row
    {
        char const* text;
        char const* names; ///< what the message must hold
        char const* allows;
    };
    for (Row const& row : {Row{"trnk:A", "trnk", "did you mean trunk"},
                           {"adapter:oposed", "oposed", "did you mean opposed"},
                           {"port:", "no value", "port:aligned"},
                           {"duplex:straight", "straight", "A-to-B, A-to-A"},
                           {"trunk:A,pins=p", "'p'", "pp, pu, up, uu"},
                           {"trunk:A,pin=pp", "'pin'", "did you mean pins"},
                           {"trunk:A,turn=left", "left", "near, far, both"},
                           {"trunk:A,reversed", "reversed", "table file"},
                           {"adapter:opposed,pins=p", "'pins'", "none"},
                           {"port:aligned,pins=male", "male", "pinned, unpinned, neutral"},
                           {"trunk:A,face=flat,face=flat", "face", "twice"},
                           {"", "''", "port, cord, trunk"}}) {
        Result<Element> const element = parse_element(row.text);
        ASSERT_FALSE(element) << row.text;
        EXPECT_THAT(element.error().message,
                    AllOf(HasSubstr(row.text), HasSubstr(row.names), HasSubstr(row.allows)));
        EXPECT_EQ(element.error().code, Errc::usage);
    }
}

TEST(Chain, RefusesWhatNobodyCanBuild)
{
    struct Row
    {
        char const* text;
        char const* says;
    };
    for (Row const& row : {Row{"trunk:D", "A, B, C, RW"},
                           {"module:U3", "straight, U1, U2"},
                           {"harness:breakout-8", "breakout-4"},
                           {"adapter:opposed adapter:opposed", "both adapters"},
                           {"cord:A port:aligned cord:A", "beginning or the end"},
                           {"port:aligned adapter:opposed cord:A", "without an adapter"},
                           {"trunk:A,fibres=1-13", "1 to 12"},
                           {"trunk:A,family=mpo-24", "I-A"},
                           {"trunk:A,family=duplex-12", "no array connector"},
                           {"cord:none.toml", "No file"},
                           {"cord:eights.toml adapter:opposed cord:eights.toml", "cannot be paired"},
                           {"", "at least one element"}}) {
        Result<Chain> const chain = build_chain(row.text, with_tables());
        ASSERT_FALSE(chain) << row.text;
        EXPECT_THAT(chain.error().message, HasSubstr(row.says)) << row.text;
    }
    EXPECT_THAT(build_chain("cord:x.toml", ChainOptions{}).error().message,
                HasSubstr("tables cannot be read here"));
}

TEST(Chain, PinsFollowTheConvention)
{
    // Both conventions make every joint of these chains P-U; mixing the conventions shows as a finding.
    ChainOptions options;
    for (Convention const convention : {Convention::fixed_pinned, Convention::modules_pinned}) {
        options.convention = convention;
        for (char const* text :
             {"port:aligned cord:B adapter:opposed trunk:A adapter:opposed cord:A port:aligned",
              "module:U1 trunk:B module:U1", "port:aligned cord:B adapter:opposed trunk:A module:U1",
              "port:aligned cord:B port:aligned", "port:aligned harness:breakout-4 port:duplex"}) {
            Chain const chain = build_chain(text, options).value();
            for (Joint const& joint : chain.joints)
                EXPECT_TRUE(joint.verdict.ok()) << text << joint_text(chain, joint);
            EXPECT_FALSE(chain.joints.empty());
        }
    }
    options.convention = Convention::modules_pinned;
    Chain const mixed = build_chain("cord:B adapter:opposed trunk:A,pins=pp", options).value();
    EXPECT_EQ(mixed.joints.at(0).verdict.faults, std::vector<MateFault>{MateFault::pins_both});
    EXPECT_EQ(mixed.map.near_places().size(), 12U); // a finding of this joint only; the rest is computed
}

TEST(Chain, WithoutAdapterThereIsNoLight)
{
    Chain const chain = build_chain("cord:B trunk:A", ChainOptions{}).value();
    EXPECT_EQ(chain.joints.at(0).verdict.faults, std::vector<MateFault>{MateFault::no_adapter});
    EXPECT_EQ(chain.map.near_places().size(), 0U);
    EXPECT_EQ(chain.class_name(), "dark");
}

TEST(Chain, AngledPlantWorksWithOpposedKeysOnly)
{
    ChainOptions options;
    options.face = Face::angled;
    EXPECT_TRUE(build_chain("cord:A adapter:opposed trunk:A", options)->joints_ok());
    EXPECT_FALSE(build_chain("cord:A adapter:aligned trunk:A", options)->joints_ok());
    EXPECT_TRUE(build_chain("cord:A,slope=up adapter:aligned trunk:A", options)->joints_ok());
    EXPECT_FALSE(
        build_chain("cord:A,turn=far adapter:opposed trunk:A", options)->joints_ok()); // a key turn tilts
    EXPECT_TRUE(build_chain("port:aligned cord:B port:aligned", options)->joints_ok());
}

TEST(Chain, PopulationIsTakenOverUnlessStated)
{
    ChainOptions options;
    options.fibres = parse_occupancy("8", options.family).value();
    Chain const eight =
        build_chain("port:aligned cord:B adapter:opposed trunk:B adapter:opposed cord:B port:aligned",
                    options)
            .value();
    EXPECT_TRUE(eight.joints_ok());
    EXPECT_EQ(eight.map.near_places().size(), 8U);
    EXPECT_EQ(eight.map.at(Place{0, 1})->position, 12);
    Chain const mixed =
        build_chain("trunk:A,fibres=8-outer adapter:opposed trunk:A,fibres=8-centred,pins=uu", ChainOptions{})
            .value();
    EXPECT_EQ(mixed.joints.at(0).verdict.faults, std::vector<MateFault>{MateFault::partial});
    EXPECT_EQ(mixed.map.near_places().size(), 4U);
}

TEST(Chain, ConversionCordsBranchAndJoinAgain)
{
    // One 24 to two 12, trunks on both legs, and back: the mirrored second leg undoes itself.
    Chain const chain =
        build_chain("cord:legs.toml adapter:opposed trunk:A adapter:opposed cord:legs.toml,reversed",
                    with_tables("mpo-24"))
            .value();
    EXPECT_EQ(chain.joints.size(), 4U);
    EXPECT_TRUE(chain.joints_ok());
    EXPECT_EQ(*chain.map.single(), PositionMap::identity(all_positions(parse_family("mpo-24").value())));
    EXPECT_EQ(chain.class_name(), "I-A");
    // Two 12 to three 8 behind one trunk each: position 1 of connector 2 ends on position 9 of connector 2.
    Chain const eights = build_chain("trunk:A adapter:opposed cord:eights.toml", with_tables()).value();
    EXPECT_EQ(eights.map.near_connectors(), 2);
    EXPECT_EQ(eights.map.far_connectors(), 3);
    EXPECT_EQ(*eights.map.at(Place{1, 1}), (Place{1, 9}));
    EXPECT_EQ(eights.class_name(), "");
}

TEST(CordTable, ReadsBackFromItsText)
{
    for (char const* text : {two_legs, three_eights}) {
        CordTable const table = parse_cord_table("t.toml", text).value();
        CordTable const again = parse_cord_table("t.toml", cord_table_text(table)).value();
        EXPECT_EQ(again.map, table.map);
        EXPECT_EQ(again.name, table.name);
        EXPECT_EQ(cord_table_text(again), cord_table_text(table));
        EXPECT_EQ(reversed(reversed(table)).map, table.map);
    }
}

TEST(CordTable, MessagesHaveALine)
{
    struct Row
    {
        char const* text;
        char const* says;
    };
    for (Row const& row :
         {Row{"map = [\"1-12 > 1-12\"]\n[[near]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\n",
              "line 1: '1-12 > 1-12' has no '->'"},
          {"map = [\"1-12 -> 1-11\"]\n[[near]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\n",
           "12 near and 11 far"},
          {"map = [\"1-2 -> 1-2\",\n\"2 -> 5\"]\n[[near]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\n",
           "line 2: '2 -> 5': near 2 or far 5 is used twice"},
          {"map = [\"1 -> 13\"]\n[[near]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\n",
           "within 1 to 12 of the far end"},
          {"map = [\"1 -> 3:1\"]\n[[near]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\n",
           "connector '3' of the far end"},
          {"map = [\"1 -> 1\"]\n[[near]]\nfamily=\"mpo-12\"\nfibers=\"1\"\n[[far]]\nfamily=\"mpo-12\"\n",
           "line 4: 'fibers' is not one of"},
          {"map = [\"1 -> 5\"]\n[[near]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\nfibres=\"8\"\n",
           "outside its fibres 1-4,9-12"},
          {"[[near]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\n", "no map"},
          {"map = [\"1 -> 1\"]\n[[near]]\nfamily=\"mpo-12\"\n", "no connector at the far end"},
          {"map = [", "line 1"}}) {
        Result<CordTable> const table = parse_cord_table("legs.toml", row.text);
        ASSERT_FALSE(table) << row.text;
        EXPECT_THAT(table.error().message, AllOf(HasSubstr("legs.toml: line "), HasSubstr(row.says)));
    }
}

TEST(Links, ModulesAtBothEndsCountOnLcPorts)
{
    LinkSpec spec;
    spec.id = "L2";
    spec.family = parse_family("duplex-12").value();
    spec.trunk_type = "module:U1 adapter:opposed trunk:B adapter:opposed module:U1";
    LinkModel const model = build_link(spec).value();
    EXPECT_EQ(model.near_family.name(), "duplex-12");
    EXPECT_EQ(model.inner_joints, 2);
    EXPECT_EQ(model.near_occupied.count(), 12U);
    EXPECT_EQ(model.positions->at(1), 2); // pair k on pair k, halves exchanged by the type B trunk
    spec.fibres.set(0).set(1);
    EXPECT_EQ(build_link(spec)->positions->size(), 2);
}

TEST(Links, ErrorsNameTheLink)
{
    LinkSpec spec;
    spec.id = "HDA-3/12";
    spec.trunk_type = "X";
    Result<LinkModel> const model = build_link(spec);
    ASSERT_FALSE(model);
    EXPECT_THAT(model.error().message, AllOf(HasSubstr("HDA-3/12"), HasSubstr("A, B, C, RW")));
    EXPECT_EQ(model.error().code, Errc::invalid_input);
    spec.trunk_type = "  ";
    EXPECT_THAT(build_link(spec).error().message, HasSubstr("no polarity type"));
}

TEST(Links, OneModelForAllOfAKind)
{
    LinkModels models{LinkOptions{}};
    LinkSpec spec;
    spec.trunk_type = "B";
    for (int i = 0; i < 1000; ++i) {
        spec.id = std::to_string(i);
        ASSERT_TRUE(models.model_for(spec));
    }
    EXPECT_EQ(models.size(), 1U);
    spec.b.fitting = EndFitting::aligned_adapter;
    EXPECT_EQ((*models.model_for(spec))->class_name, "A");
    EXPECT_EQ(models.size(), 2U);
}

TEST(Links, PinsAreThoseOfTheSchedule)
{
    LinkSpec spec;
    spec.trunk_type = "A";
    spec.a.pins = Pins::unpinned;
    spec.b.pins = Pins::pinned;
    LinkModel const model = build_link(spec).value();
    EXPECT_EQ(model.near_end.pins, Pins::unpinned);
    EXPECT_EQ(model.far_end.pins, Pins::pinned);
}

TEST(MapView, SaysDifferencesInWords)
{
    PositionMap const straight = PositionMap::identity(parse_occupancy("12", Family{}).value());
    PositionMap measured = straight;
    measured.disconnect(3);
    measured.disconnect(4);
    measured.disconnect(7);
    measured.connect(3, 4);
    measured.connect(4, 3);
    EXPECT_EQ(difference_text(difference(straight, measured)), "3 and 4 exchanged; 7 dark");
    EXPECT_EQ(difference_text(difference(straight, straight)), "no difference");
}

} // namespace elements_test
} // namespace guidepin::plant
