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

struct NamedShare
{
    char const* id;
    double Priors::*share;
};

constexpr std::array named_shares{
    NamedShare{"causes.rate.macrobend.multimode", &Priors::macrobend_multimode},
    NamedShare{"causes.dark.dirty-or-damaged-end-face", &Priors::dark_dirty},
    NamedShare{"causes.mirrored.wrong-trunk-type", &Priors::mirrored_trunk},
    NamedShare{"causes.mirrored.wrong-adapter", &Priors::mirrored_adapter},
    NamedShare{"causes.mirrored.wrong-test-cord", &Priors::mirrored_cord},
    NamedShare{"causes.exchanged.mislabelled-link", &Priors::exchanged_labels},
    NamedShare{"causes.exchanged.wrong-trunk-type", &Priors::exchanged_trunks},
    NamedShare{"causes.lengths.most", &Priors::lengths_exchanged_most},
    NamedShare{"causes.lengths.length-mismatch", &Priors::length_wrong},
    NamedShare{"causes.lengths.mislabelled-link", &Priors::length_mislabelled},
    NamedShare{"causes.beyond-10-db.broken-fibre", &Priors::extreme_broken},
    NamedShare{"causes.beyond-10-db.dirty-or-damaged-end-face", &Priors::extreme_dirty},
    NamedShare{"causes.reference-fault.too-low", &Priors::reference_too_low},
    NamedShare{"causes.reference-fault.too-high", &Priors::reference_too_high},
    NamedShare{"causes.false-doubt", &Priors::false_doubt},
    NamedShare{"causes.report.least-probability", &Priors::report_from},
    NamedShare{"causes.calibration.sharpness", &Priors::sharpness},
};

using plant::SignatureKind;

struct MapRow
{
    SignatureKind kind;
    char const* signature; ///< in the ids of the facts
    Cause cause, other;
};

constexpr MapRow any_other{SignatureKind::turned_key, "any-other", Cause::unexplained,
                           Cause::wrong_trunk_type};
constexpr std::array map_rows{
    MapRow{SignatureKind::wrong_trunk_type, "wrong-trunk-type", Cause::wrong_trunk_type,
           Cause::wrong_test_cord},
    MapRow{SignatureKind::crossed_pair, "crossed-fibres", Cause::crossed_fibres, Cause::mislabelled_link},
    MapRow{SignatureKind::crossed_fibres, "crossed-fibres", Cause::crossed_fibres, Cause::mislabelled_link},
    MapRow{SignatureKind::shifted_row, "shifted-row", Cause::shifted_row, Cause::broken_fibre},
    MapRow{SignatureKind::swapped_blocks, "swapped-blocks", Cause::swapped_blocks, Cause::wrong_trunk_type},
    MapRow{SignatureKind::swapped_rows, "swapped-rows", Cause::swapped_rows, Cause::wrong_adapter},
    MapRow{SignatureKind::one_leg_wrong, "one-leg-wrong", Cause::crossed_fibres, Cause::wrong_trunk_type},
    MapRow{SignatureKind::all_dark, "all-dark", Cause::broken_fibre, Cause::mislabelled_link},
    MapRow{SignatureKind::extra_fibres, "extra-fibres", Cause::mislabelled_link, Cause::wrong_trunk_type},
};

Result<MapMeaning> map_meaning(facts::Tables const& tables, MapRow const& row)
{
    MapMeaning meaning{.cause = row.cause, .other = row.other};
    auto const id = [&](Cause cause) {
        return fmt::format("causes.wiring.{}.{}", row.signature, id_of(cause));
    };
    TRY_ASSIGN(meaning.probability, share(tables, id(row.cause)));
    TRY_ASSIGN(meaning.other_probability, share(tables, id(row.other)));
    return meaning;
}

Result<SharedMirror> shared_mirror(facts::Tables const& tables, std::string const& part, Cause alternative)
{
    SharedMirror mirror;
    TRY_ASSIGN(mirror.least_share, share(tables, part + ".least-share"));
    TRY_ASSIGN(mirror.few, share(tables, part + ".few"));
    TRY_ASSIGN(mirror.many, share(tables, part + ".many"));
    TRY_ASSIGN(mirror.alternative, share(tables, fmt::format("{}.{}", part, id_of(alternative))));
    return mirror;
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
    for (NamedShare const& named : named_shares) {
        TRY_ASSIGN(priors.*named.share, share(tables, named.id));
    }
    TRY_ASSIGN(priors.mirrored_cords, shared_mirror(tables, "causes.mirrored-cords", Cause::wrong_adapter));
    TRY_ASSIGN(priors.mirrored_panel,
               shared_mirror(tables, "causes.mirrored-panel", Cause::wrong_trunk_type));
    TRY_ASSIGN(MapMeaning const other, map_meaning(tables, any_other));
    priors.map_meaning.fill(other);
    for (MapRow const& row : map_rows) {
        TRY_ASSIGN(priors.map_meaning[static_cast<std::size_t>(row.kind)], map_meaning(tables, row));
    }
    return priors;
}

} // namespace guidepin::cause
