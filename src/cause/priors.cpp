// SPDX-License-Identifier: Apache-2.0
#include "cause/priors.hpp"

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

Result<double> share(facts::Tables const& tables, std::string const& id)
{
    facts::Fact const* const fact = tables.fact(id);
    if (!fact) return Error{Errc::not_found, fmt::format("The tables have no fact {}", id)};
    if (!(fact->value > 0 && fact->value <= 1) && id != "causes.calibration.sharpness")
        return Error{Errc::invalid_input,
                     fmt::format("{} is {}; a share lies above 0 and up to 1", id, fact->value)};
    return fact->value;
}

} // namespace

Result<Priors> priors_of(facts::Tables const& tables)
{
    Priors priors;
    for (Cause const cause :
         {Cause::dirty_end_face, Cause::macrobend, Cause::misaligned_ferrule, Cause::unpinned_joint,
          Cause::face_mismatch, Cause::broken_fibre, Cause::extra_connection, Cause::core_size_mismatch,
          Cause::reference_fault, Cause::reference_drift, Cause::test_cord_position,
          Cause::copied_measurement, Cause::unexplained}) {
        TRY_ASSIGN(priors.rate[static_cast<std::size_t>(cause)],
                   share(tables, std::string{"causes.rate."} + id_of(cause)));
    }
    TRY_ASSIGN(priors.macrobend_multimode, share(tables, "causes.rate.macrobend.multimode"));
    TRY_ASSIGN(priors.dark_dirty, share(tables, "causes.dark.dirty-or-damaged-end-face"));
    TRY_ASSIGN(priors.mirrored_trunk, share(tables, "causes.mirrored.wrong-trunk-type"));
    TRY_ASSIGN(priors.mirrored_adapter, share(tables, "causes.mirrored.wrong-adapter"));
    TRY_ASSIGN(priors.false_doubt, share(tables, "causes.false-doubt"));
    TRY_ASSIGN(priors.report_from, share(tables, "causes.report.least-probability"));
    TRY_ASSIGN(priors.sharpness, share(tables, "causes.calibration.sharpness"));
    return priors;
}

} // namespace guidepin::cause
