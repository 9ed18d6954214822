// SPDX-License-Identifier: Apache-2.0
// Which network applications a channel will carry: length, loss of the worst position that the application
// uses, connector, face, positions, polarity and reflectance, each with its arithmetic. All are needed: spare
// length buys no loss, spare loss no length. Values are compared unrounded. Rules:
// docs/methods/applications.md. Sources: the rows of data/applications*.toml (IEEE 802.3, INCITS FC-PI,
// IBTA), data/ports.toml, data/reflectance.toml. Verified by: tests/oracle/verdict/applications.cpp (eight
// worked channels), tests/unit/verdict/applications.cpp (each reason, properties).
#pragma once

#include "facts/tables.hpp"
#include "plant/connector.hpp"
#include "plant/fibre_map.hpp"
#include "units/quantity.hpp"
#include "verdict/explain.hpp"

#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::verdict {

enum class Support : std::uint8_t { supported, not_supported, cannot_be_said };
char const* name_of(Support support); ///< "supported", "not supported", "cannot be said"

/// What one check came to.
enum class Mark : std::uint8_t { pass, fail, unknown };
char const* name_of(Mark mark); ///< "pass", "fail", "unknown"

/// Loss of a fibre at a wavelength: the worse direction, or the mean, as the job has it.
struct FibreLoss
{
    int position = 0; ///< at the near end
    int wavelength_nm = 0;
    double db = 0;
    double u_db = 0;   ///< standard uncertainty; 0: not known
    bool dark = false; ///< no light arrives: `db` is what the meter shows without light, no loss
};

/// A channel, or a link used as one.
struct Channel
{
    facts::FibreCategory const* category = nullptr;
    Metres length;
    plant::Family family; ///< of the near end: array connector, or LC ports of a module
    plant::Face face = plant::Face::flat;
    plant::Occupancy occupied; ///< at the near end
    std::vector<FibreLoss> losses;
    std::string held; ///< why the readings may not be judged by, in words; empty: they may
    /// Near to far as measured, on the connectors of the link; none: not measured. Of a channel whose cords
    /// are in the measurement, from port face to port face.
    std::optional<plant::PositionMap> map;
    /// Every discrete reflectance that was measured, dB (negative); none: not measured.
    std::optional<std::vector<double>> reflectances_db;
    bool cords_included = false; ///< measured as a channel, equipment cords and all
    /// What the equipment cords add where they are not in the measurement.
    Decibel added_by_cords;
    Metres added_length;
    /// Where nothing was measured, take angled connections as below -55 dB.
    bool angled_meets_reflectance = false;
    double guard = 2;       ///< a loss within guard * u of its limit is marginal
    bool weak_rows = false; ///< also rows of low confidence
    Writing writing = {};   ///< of the sentences: decimal mark, metres or feet
};

struct SupportCheck
{
    std::string topic; ///< "held", "connector", "positions", "face", "polarity", "length", "loss",
                       ///< "minimum-loss", "reflectance"
    Mark mark = Mark::pass;
    std::string text; ///< the arithmetic, a whole sentence
};

struct ApplicationSupport
{
    facts::Application const* application = nullptr;
    Support support = Support::cannot_be_said;
    bool marginal = false; ///< the loss lies within its uncertainty of the limit
    std::string reason;    ///< the check that decided, one sentence
    std::vector<SupportCheck> checks;
    std::vector<std::string> conditions; ///< what has to be so besides, one sentence each
    std::string row;                     ///< category of the row that was met, or came nearest
    std::vector<int> positions;          ///< at the near end, that the application uses
    int worst_position = 0;
    double loss_db = std::numeric_limits<double>::quiet_NaN();
    double loss_margin_db = std::numeric_limits<double>::quiet_NaN();
    double length_margin_m = std::numeric_limits<double>::quiet_NaN();
    std::vector<int> pairs_supported; ///< of duplex ports, from 1
    std::vector<int> pairs_other;     ///< those not supported, or not known
    bool rests_on_memory = false;
};

ApplicationSupport application_support(facts::Application const& application, Channel const& channel,
                                       facts::Tables const& tables);

/// All applications in the order of the tables; those that are switched off only where asked for.
std::vector<ApplicationSupport> application_support(Channel const& channel, facts::Tables const& tables,
                                                    bool with_disabled = false);

/// Positions at the near end that an application uses on a connector of this family through the usual cord;
/// none where it has no interface on it. For links whose verdict counts only these.
plant::Occupancy application_positions(facts::Application const& application, plant::Family const& family,
                                       facts::Tables const& tables);

} // namespace guidepin::verdict
