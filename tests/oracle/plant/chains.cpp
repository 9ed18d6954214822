// SPDX-License-Identifier: Apache-2.0
// Oracle: worked end-to-end tables of the connection methods, typed out row by row.
// Sources: methods A, B, C: TIA-568-B.1-7, TIA-568.3-D; U1, U2: TIA-568.3-E component lists (order inside a
// pair from memory); parallel ports: IEEE 802.3 clauses 86, 95, 138 (lane order from memory); two-row chains:
// multiplied out by hand from the tables of tests/oracle/plant/maps.cpp. Whole numbers: no tolerance.
#include "chain_text.hpp"
#include "plant/link_model.hpp"
#include "plant/ports.hpp"
#include "plant/presets.hpp"

#include <gtest/gtest.h>

namespace guidepin::plant {
namespace chains_test {

Family const mpo12{Family::Key::mpo12, 1, 12};
Family const mpo24{Family::Key::mpo12, 2, 12};
Family const mpo16{Family::Key::mpo16, 1, 16};

Chain built(std::string const& text, Family const& family = mpo12)
{
    ChainOptions options;
    options.family = family;
    Result<Chain> chain = build_chain(text, options);
    if (!chain) {
        ADD_FAILURE() << text << ": " << chain.error().message;
        return {};
    }
    return std::move(chain).value();
}

int far_of(Chain const& chain, int near)
{
    auto const far = chain.map.at(Place{0, near});
    return far ? far->position : 0;
}

// ---- between two panels
// ----------------------------------------------------------------------------------------

struct PanelRow
{
    char const* near;
    char const* trunk;
    char const* far;
    char const* reads;
};

TEST(PanelToPanel, ReadsAsTheClassTimesThePanelAdapters)
{
    // Expected reading of a link between two panels, and "class times R for exactly one adapter of the other
    // kind".
    for (PanelRow const& row : {
             PanelRow{"opposed", "A", "opposed", "A"},
             {"opposed", "B", "opposed", "B"},
             {"aligned", "B", "aligned", "B"},
             {"opposed", "C", "opposed", "C"},
             {"aligned", "A", "aligned", "A"},
             {"opposed", "A", "aligned", "B"},
             {"aligned", "A", "opposed", "B"},
             {"opposed", "B", "aligned", "A"},
             {"aligned", "B", "opposed", "A"},
             {"opposed", "C", "aligned", "RW"},
             {"aligned", "RW", "opposed", "C"},
         }) {
        Chain const chain =
            built(std::string{"adapter:"} + row.near + " trunk:" + row.trunk + " adapter:" + row.far);
        EXPECT_EQ(chain.class_name(), row.reads) << row.near << row.trunk << row.far;
        EXPECT_EQ(chain.map.near_places().size(), 12U);
    }
}

TEST(PanelToPanel, TwoRowChainsOfBothFamilies)
{
    auto const same = [](int p) { return p; };
    auto const rows_swapped = [](int p) { return p <= 12 ? p + 12 : p - 12; };
    auto const mirrored = [](int p) { return 25 - p; };
    auto const columns_reversed = [](int p) { return p <= 12 ? 13 - p : 37 - p; };
    struct Row
    {
        std::string chain;
        std::function<int(int)> far;
    };
    std::string const a = "adapter:opposed";
    std::string const b = "adapter:aligned";
    for (Row const& row : {
             Row{a + " trunk:I-A " + a, same},
             {a + " trunk:II-A " + a, rows_swapped},
             {b + " trunk:I-B " + b, mirrored},
             {b + " trunk:II-B " + b, columns_reversed},
             {a + " trunk:I-B " + a, mirrored},
             {a + " trunk:II-B " + a, columns_reversed},
             {a + " trunk:I-A " + b, mirrored},
             {a + " trunk:II-A " + b, columns_reversed},
             {a + " trunk:I-B " + b, same},
             {a + " trunk:II-B " + b, rows_swapped},
         }) {
        Chain const chain = built(row.chain, mpo24);
        for (int p = 1; p <= 24; ++p)
            EXPECT_EQ(far_of(chain, p), row.far(p)) << row.chain << " position " << p;
    }
}

// ---- duplex methods
// ----------------------------------------------------------------------------------------------

struct DuplexRow
{
    int pair, tx_port, near_mpo, trunk_near, trunk_far, far_mpo, far_port, far_pair;
};

struct DuplexTable
{
    char const* method;
    char const* near_cord;
    char const* module;
    KeyRelation adapter;
    char const* trunk;
    char const* far_cord;
    std::vector<DuplexRow> rows;
};

std::vector<DuplexTable> const& duplex_tables()
{
    static std::vector<DuplexTable> const tables{
        {"A",
         "A-to-B",
         "straight",
         KeyRelation::opposed,
         "A",
         "A-to-A",
         {{1, 2, 2, 2, 2, 2, 2, 1},
          {2, 4, 4, 4, 4, 4, 4, 2},
          {3, 6, 6, 6, 6, 6, 6, 3},
          {4, 8, 8, 8, 8, 8, 8, 4},
          {5, 10, 10, 10, 10, 10, 10, 5},
          {6, 12, 12, 12, 12, 12, 12, 6}}},
        {"B",
         "A-to-B",
         "straight",
         KeyRelation::aligned,
         "B",
         "A-to-B",
         {{1, 2, 2, 11, 2, 11, 11, 6},
          {2, 4, 4, 9, 4, 9, 9, 5},
          {3, 6, 6, 7, 6, 7, 7, 4},
          {4, 8, 8, 5, 8, 5, 5, 3},
          {5, 10, 10, 3, 10, 3, 3, 2},
          {6, 12, 12, 1, 12, 1, 1, 1}}},
        {"C",
         "A-to-B",
         "straight",
         KeyRelation::opposed,
         "C",
         "A-to-B",
         {{1, 2, 2, 2, 1, 1, 1, 1},
          {2, 4, 4, 4, 3, 3, 3, 2},
          {3, 6, 6, 6, 5, 5, 5, 3},
          {4, 8, 8, 8, 7, 7, 7, 4},
          {5, 10, 10, 10, 9, 9, 9, 5},
          {6, 12, 12, 12, 11, 11, 11, 6}}},
        {"U1",
         "A-to-B",
         "U1",
         KeyRelation::opposed,
         "B",
         "A-to-B",
         {{1, 2, 12, 12, 1, 1, 1, 1},
          {2, 4, 11, 11, 2, 2, 3, 2},
          {3, 6, 10, 10, 3, 3, 5, 3},
          {4, 8, 9, 9, 4, 4, 7, 4},
          {5, 10, 8, 8, 5, 5, 9, 5},
          {6, 12, 7, 7, 6, 6, 11, 6}}},
        {"U2",
         "A-to-B",
         "U2",
         KeyRelation::aligned,
         "B",
         "A-to-B",
         {{1, 2, 1, 12, 1, 12, 1, 1},
          {2, 4, 2, 11, 2, 11, 3, 2},
          {3, 6, 3, 10, 3, 10, 5, 3},
          {4, 8, 4, 9, 4, 9, 7, 4},
          {5, 10, 5, 8, 5, 8, 9, 5},
          {6, 12, 6, 7, 6, 7, 11, 6}}},
    };
    return tables;
}

std::string duplex_chain(std::string const& near_cord, std::string const& near_module,
                         std::string const& near_adapter, std::string const& trunk,
                         std::string const& far_adapter, std::string const& far_module,
                         std::string const& far_cord)
{
    return "port:duplex duplex:" + near_cord + " module:" + near_module + " adapter:" + near_adapter +
           " trunk:" + trunk + " adapter:" + far_adapter + " module:" + far_module + " duplex:" + far_cord +
           " port:duplex";
}

TEST(DuplexMethods, EveryStepOfEveryPair)
{
    for (DuplexTable const& table : duplex_tables()) {
        PositionMap const module = module_map(table.module, mpo12).value();
        PositionMap const adapter = adapter_map(table.adapter, mpo12);
        PositionMap const trunk = cable_map(table.trunk, mpo12).value();
        for (DuplexRow const& row : table.rows) {
            int const port = duplex_cord_map(table.near_cord, 12)->at(2 * row.pair - 1);
            EXPECT_EQ(port, row.tx_port) << table.method;
            EXPECT_EQ(module.inverse().at(row.tx_port), row.near_mpo) << table.method;
            EXPECT_EQ(adapter.at(row.near_mpo), row.trunk_near) << table.method;
            EXPECT_EQ(trunk.at(row.trunk_near), row.trunk_far) << table.method;
            EXPECT_EQ(adapter.at(row.trunk_far), row.far_mpo) << table.method;
            EXPECT_EQ(module.at(row.far_mpo), row.far_port) << table.method;
        }
    }
}

/// Where each transmitter of twelve LC ports with duplex equipment lands (cords already in the map).
std::vector<LaneOutcome> lc_lanes(FibreMap const& map)
{
    return judge_lanes(map, duplex_uses(12), duplex_uses(12)).near_to_far;
}

TEST(DuplexMethods, EveryTransmitterLandsOnTheReceiverOfTheTable)
{
    for (DuplexTable const& table : duplex_tables()) {
        std::string const keys = name_of(table.adapter);
        Chain const chain = built(duplex_chain(table.near_cord, table.module, keys, table.trunk, keys,
                                               table.module, table.far_cord));
        EXPECT_TRUE(chain.joints_ok()) << table.method;
        std::vector<LaneOutcome> const outcomes = lc_lanes(chain.map);
        ASSERT_EQ(outcomes.size(), 6U) << table.method;
        for (DuplexRow const& row : table.rows) {
            LaneOutcome const& outcome = outcomes[static_cast<std::size_t>(row.pair - 1)];
            EXPECT_EQ(outcome.landing, Landing::receive) << table.method << " pair " << row.pair;
            EXPECT_EQ(outcome.far_lane + 1, row.far_pair) << table.method << " pair " << row.pair;
        }
    }
}

TEST(DuplexMethods, AModuleWithoutANamedAdapterBringsItsOwn)
{
    EXPECT_EQ(built("module:U1 trunk:B module:U1").map,
              built("module:U1 adapter:opposed trunk:B adapter:opposed module:U1").map);
    EXPECT_EQ(built("module:U2 trunk:B module:U2").map,
              built("module:U2 adapter:aligned trunk:B adapter:aligned module:U2").map);
    EXPECT_EQ(built("module:straight,adapter=aligned trunk:B module:straight,adapter=aligned").map,
              built("module:straight adapter:aligned trunk:B adapter:aligned module:straight").map);
}

TEST(DuplexMethods, CommonMistakes)
{
    struct Mistake
    {
        char const* what;
        std::string chain;
        Landing landing;
        std::vector<int> far_pairs; ///< only where it lands on a receiver
    };
    std::string const a = "opposed";
    std::string const b = "aligned";
    std::vector<int> const in_order{1, 2, 3, 4, 5, 6};
    for (Mistake const& m : {
             Mistake{"A trunk, A-to-B at both ends",
                     duplex_chain("A-to-B", "straight", a, "A", a, "straight", "A-to-B"),
                     Landing::transmit,
                     {}},
             {"method B, one A adapter",
              duplex_chain("A-to-B", "straight", a, "B", b, "straight", "A-to-B"),
              Landing::transmit,
              {}},
             {"A trunk in a B plant",
              duplex_chain("A-to-B", "straight", b, "A", b, "straight", "A-to-B"),
              Landing::transmit,
              {}},
             {"C trunk in a method A plant",
              duplex_chain("A-to-B", "straight", a, "C", a, "straight", "A-to-A"),
              Landing::transmit,
              {}},
             {"C trunk in a method B plant",
              duplex_chain("A-to-B", "straight", b, "C", b, "straight", "A-to-B"), Landing::receive,
              in_order},
             {"U1 with an A trunk",
              duplex_chain("A-to-B", "U1", a, "A", a, "U1", "A-to-B"),
              Landing::transmit,
              {}},
             {"U1 against U2",
              duplex_chain("A-to-B", "U1", a, "B", a, "U2", "A-to-B"),
              Landing::transmit,
              {}},
             {"method A as planned", duplex_chain("A-to-B", "straight", a, "A", a, "straight", "A-to-A"),
              Landing::receive, in_order},
         }) {
        std::vector<LaneOutcome> const outcomes = lc_lanes(built(m.chain).map);
        ASSERT_EQ(outcomes.size(), 6U) << m.what;
        for (std::size_t i = 0; i < outcomes.size(); ++i) {
            EXPECT_EQ(outcomes[i].landing, m.landing) << m.what;
            if (!m.far_pairs.empty()) {
                EXPECT_EQ(outcomes[i].far_lane + 1, m.far_pairs[i]) << m.what;
            }
        }
    }
}

// ---- parallel ports
// ----------------------------------------------------------------------------------------------

std::vector<PortUse> lanes(int count, int positions)
{
    std::vector<PortUse> uses;
    for (int i = 1; i <= count; ++i) {
        uses.push_back(PortUse{Place{0, i}, 't', i - 1});
        uses.push_back(PortUse{Place{0, positions + 1 - i}, 'r', i - 1});
    }
    return uses;
}

std::string between_ports(std::string const& inside)
{
    return "port:aligned " + inside + " port:aligned";
}

TEST(ParallelPorts, FourLanesThroughEachMethod)
{
    std::string const a = " adapter:opposed ";
    std::string const b = " adapter:aligned ";
    struct Row
    {
        std::string chain;
        std::vector<int> far; ///< of Tx 1 to 4
        LaneVerdict verdict;
    };
    std::vector<int> const true_lanes{12, 11, 10, 9};
    for (Row const& row : {
             Row{"cord:B", true_lanes, LaneVerdict::lane_true},
             {"cord:A", {1, 2, 3, 4}, LaneVerdict::tx_to_tx},
             {"cord:C", {2, 1, 4, 3}, LaneVerdict::tx_to_tx},
             {"cord:A" + a + "trunk:A" + a + "cord:B", true_lanes, LaneVerdict::lane_true},
             {"cord:A" + a + "trunk:A" + a + "cord:A", {1, 2, 3, 4}, LaneVerdict::tx_to_tx},
             {"cord:B" + a + "trunk:A" + a + "cord:B", {1, 2, 3, 4}, LaneVerdict::tx_to_tx},
             {"cord:B" + b + "trunk:B" + b + "cord:B", true_lanes, LaneVerdict::lane_true},
             {"cord:B" + b + "trunk:B" + a + "cord:B", {1, 2, 3, 4}, LaneVerdict::tx_to_tx},
             {"cord:B" + a + "trunk:C" + a + "cord:C", true_lanes, LaneVerdict::lane_true},
             {"cord:A" + a + "trunk:C" + a + "cord:B", {11, 12, 9, 10}, LaneVerdict::lanes_permuted},
             {"cord:B" + a + "trunk:B" + a + "cord:B", true_lanes, LaneVerdict::lane_true},
         }) {
        Chain const chain = built(between_ports(row.chain));
        EXPECT_TRUE(chain.joints_ok()) << row.chain;
        ParallelVerdict const verdict = judge_lanes(chain.map, lanes(4, 12), lanes(4, 12));
        EXPECT_EQ(verdict.verdict, row.verdict) << row.chain;
        for (std::size_t i = 0; i < 4; ++i) {
            EXPECT_EQ(far_of(chain, static_cast<int>(i) + 1), row.far[i]) << row.chain;
        }
    }
}

TEST(ParallelPorts, EightLanesOnSixteen)
{
    struct Row
    {
        char const* chain;
        LaneVerdict verdict;
    };
    for (Row const& row :
         {Row{"cord:B", LaneVerdict::lane_true},
          {"cord:A", LaneVerdict::tx_to_tx},
          {"cord:B adapter:opposed trunk:B adapter:opposed cord:B", LaneVerdict::lane_true},
          {"cord:A adapter:opposed trunk:A adapter:opposed cord:B", LaneVerdict::lane_true},
          {"cord:B adapter:opposed trunk:A adapter:opposed cord:B", LaneVerdict::tx_to_tx}}) {
        Chain const chain = built(between_ports(row.chain), mpo16);
        EXPECT_EQ(judge_lanes(chain.map, lanes(8, 16), lanes(8, 16)).verdict, row.verdict) << row.chain;
    }
}

/// 100GBASE-SR10: Tx on the bottom row 14 … 23, Rx on the top row 2 … 11 (IEEE 802.3 clause 86, from memory).
std::vector<PortUse> ten_lanes()
{
    std::vector<PortUse> uses;
    for (int i = 1; i <= 10; ++i) {
        uses.push_back(PortUse{Place{0, 13 + i}, 't', i - 1});
        uses.push_back(PortUse{Place{0, 1 + i}, 'r', i - 1});
    }
    return uses;
}

TEST(ParallelPorts, TenLanesOnTwoRows)
{
    std::string const a = " adapter:opposed ";
    std::string const b = " adapter:aligned ";
    struct Row
    {
        std::string chain;
        LaneVerdict verdict;
        bool reversed; ///< works, lane i arrives on 11-i
    };
    for (Row const& row : {
             Row{"cord:I-A", LaneVerdict::tx_to_tx, false},
             {"cord:I-B", LaneVerdict::lanes_permuted, true},
             {"cord:II-A", LaneVerdict::lane_true, false},
             {"cord:II-B", LaneVerdict::tx_to_tx, false},
             {"cord:I-A" + a + "trunk:I-A" + a + "cord:I-A", LaneVerdict::tx_to_tx, false},
             {"cord:II-A" + a + "trunk:II-A" + a + "cord:II-A", LaneVerdict::lane_true, false},
             {"cord:I-A" + a + "trunk:I-A" + a + "cord:I-B", LaneVerdict::lanes_permuted, true},
             {"cord:II-A" + a + "trunk:II-A" + a + "cord:II-B", LaneVerdict::tx_to_tx, false},
             {"cord:I-B" + b + "trunk:I-B" + b + "cord:I-B", LaneVerdict::lanes_permuted, true},
             {"cord:II-B" + b + "trunk:II-B" + b + "cord:II-B", LaneVerdict::tx_to_tx, false},
         }) {
        Chain const chain = built(between_ports(row.chain), mpo24);
        ParallelVerdict const verdict = judge_lanes(chain.map, ten_lanes(), ten_lanes());
        EXPECT_EQ(verdict.verdict, row.verdict) << row.chain;
        if (!row.reversed) continue;
        for (LaneOutcome const& lane : verdict.near_to_far)
            EXPECT_EQ(lane.far_lane, 9 - lane.lane) << row.chain;
    }
}

TEST(ParallelPorts, BrokenOutThroughOneModule)
{
    // Lane i: U1 behind an opposed adapter and U2 behind an aligned one put Tx on the odd port of pair i, Rx
    // on the even.
    for (char const* text :
         {"port:aligned cord:B adapter:opposed module:U1", "port:aligned cord:B adapter:aligned module:U2"}) {
        Chain const chain = built(text);
        for (int i = 1; i <= 4; ++i) {
            EXPECT_EQ(far_of(chain, i), 2 * i - 1) << text;
            EXPECT_EQ(far_of(chain, 13 - i), 2 * i) << text;
        }
    }
}

TEST(ParallelPorts, BrokenOutThroughAHarness)
{
    // Plug position 13-i carries light from module lane i, plug position i light to module lane i.
    Chain const chain = built("port:aligned harness:breakout-4 port:duplex");
    std::vector<PortUse> const port = lanes(4, 12);
    EXPECT_EQ(judge_lanes(chain.map, port, duplex_uses(8)).verdict, LaneVerdict::lane_true);
    Chain const sixteen = built("port:aligned harness:breakout-8 port:duplex", mpo16);
    EXPECT_EQ(judge_lanes(sixteen.map, lanes(8, 16), duplex_uses(16)).verdict, LaneVerdict::lane_true);
}

// ---- the remaining vectors of the contract
// ------------------------------------------------------------------------

TEST(Contract, DirectCords)
{
    EXPECT_EQ(far_of(built("port:aligned cord:B port:aligned"), 1), 12);
    EXPECT_EQ(far_of(built("port:aligned cord:A port:aligned"), 1), 1);
}

TEST(Contract, TwoRowTrunks)
{
    EXPECT_EQ(built("adapter:opposed trunk:I-A adapter:opposed", mpo24).class_name(), "I-A");
    EXPECT_EQ(far_of(built("adapter:opposed trunk:II-A adapter:opposed", mpo24), 1), 13);
}

TEST(Contract, AnAdapterAlone)
{
    EXPECT_EQ(far_of(built("adapter:aligned"), 1), 12);
    EXPECT_EQ(far_of(built("adapter:aligned"), 6), 7);
    EXPECT_EQ(far_of(built("adapter:opposed", mpo24), 24), 12);
}

TEST(Links, AModelIsTheChainBetweenItsPanels)
{
    LinkSpec spec;
    spec.id = "L1";
    spec.family = mpo12;
    spec.fibres = parse_occupancy("12", mpo12).value();
    struct Row
    {
        EndFitting a;
        char const* trunk;
        EndFitting b;
        char const* reads;
    };
    for (Row const& row : {Row{EndFitting::opposed_adapter, "A", EndFitting::opposed_adapter, "A"},
                           {EndFitting::aligned_adapter, "B", EndFitting::aligned_adapter, "B"},
                           {EndFitting::opposed_adapter, "C", EndFitting::opposed_adapter, "C"},
                           {EndFitting::opposed_adapter, "A", EndFitting::aligned_adapter, "B"},
                           {EndFitting::bare_plug, "B", EndFitting::bare_plug, "B"},
                           {EndFitting::bare_plug, "A", EndFitting::aligned_adapter, "B"}}) {
        spec.a.fitting = row.a;
        spec.b.fitting = row.b;
        spec.trunk_type = row.trunk;
        Result<LinkModel> const model = build_link(spec);
        ASSERT_TRUE(model) << model.error().message;
        EXPECT_EQ(model->class_name, row.reads);
        EXPECT_EQ(model->near_end.pins, Pins::pinned);
    }
}

} // namespace chains_test
} // namespace guidepin::plant
