// SPDX-License-Identifier: Apache-2.0
// A reference or a cord check that a person types, as a file of the plain layout: typed and imported go one
// way. Verified by: tests/unit/job/typed.cpp (typed and imported give the same entries; a key is kept once).
#pragma once

#include "job/entry/bodies.hpp"
#include "units/instant.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::job {

struct TypedPower
{
    int wavelength_nm = 0, position = 0;
    double power_dbm = 0;
};
struct TypedReference
{
    std::string id;  ///< empty: the next free "R-N"
    std::string key; ///< kept once
    TestKit kit;
    bool instrument_positions = false;
    std::optional<Instant> taken; ///< none: now; never later than now
    std::vector<TypedPower> powers;
    /// Items that the register refuses and why a person uses them all the same: item, reason.
    std::vector<std::pair<std::string, std::string>> overrides;
};

struct TypedJoint
{
    int wavelength_nm = 0, position = 0;
    std::optional<int> far_position; ///< 0: no light arrives
    double attenuation_db = 0;
};
struct TypedCheck
{
    std::string reference;
    std::string key; ///< kept once
    bool instrument_positions = false;
    std::optional<Instant> taken;
    std::vector<TypedJoint> rows;
};

/// Errors: invalid_input for a name that a file cannot carry.
Result<std::string> typed_reference_csv(TypedReference const& reference, Instant taken);
std::string typed_check_csv(TypedCheck const& check, std::string const& id, Instant taken);

/// The first of "R-1", "R-2", … (or another prefix) that `taken` does not have.
std::string free_name(std::string_view prefix, std::vector<std::string> const& taken);

} // namespace guidepin::job
