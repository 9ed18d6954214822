// SPDX-License-Identifier: Apache-2.0
#include "record/kind.hpp"

#include <algorithm>
#include <array>

namespace guidepin::record {

namespace {

constexpr std::array rows{
    Kind{kind::acknowledgement, "A person has seen a finding and says why it may stand."},
    Kind{kind::cord_check, "The cords were measured against each other or with a known cord between them."},
    Kind{kind::correction, "Something recorded before was wrong: what it should have been, and why."},
    Kind{kind::handed_over, "A package was made and given to somebody: its files by name, size and hash."},
    Kind{kind::inspection, "An end face was looked at: what, how, and in which state it was."},
    Kind{kind::job_opened, "The job was opened: its name and what it is for."},
    Kind{kind::kit_item, "An instrument, cord or adapter of the kit, as it is from now on."},
    Kind{kind::kit_limits, "Limits and warnings of the kit's register, from now on."},
    Kind{kind::kit_override,
         "A person uses an item of the kit although the register refuses it, and says why."},
    Kind{kind::link_tested, "One link was measured: all its readings in one record."},
    Kind{kind::note, "A person's remark on a link, a reference, an item of the kit or the job."},
    Kind{kind::operator_named, "A person who works on the job, and what they may do."},
    Kind{kind::pin_change, "The pins of a plug were put in or taken out."},
    Kind{kind::reference,
         "A reference was taken: the power per position and wavelength, cords, instruments, method."},
    Kind{kind::reference_event,
         "Something happened that bears on a reference: a cord moved, an instrument was switched off."},
    Kind{kind::reference_trusted,
         "A person says that a reference may be relied on though the watch doubts it, and why."},
    Kind{kind::schedule, "Links that were promised, as the schedule describes them."},
    Kind{kind::setting, "What the job promises and how it is measured, from now on."},
    Kind{kind::setup, "A set-up was chosen: cords, pins, adapters and steps."},
    Kind{kind::sign_off, "A person stands for the job, or a part of it, as it was at that moment."},
    Kind{kind::source_file, "A file was read in: its name, size and SHA-256."},
    Kind{kind::station_key, "The public key of the station; the first record of its chain."},
    Kind{kind::step_done, "A step of a job card was done."},
};

constexpr bool in_order()
{
    for (std::size_t i = 1; i < rows.size(); ++i) {
        if (!(rows[i - 1].name < rows[i].name)) return false;
    }
    return true;
}
static_assert(in_order(), "kinds stand in alphabetical order, each once");

} // namespace

std::span<Kind const> kinds()
{
    return rows;
}

Kind const* find_kind(std::string_view name)
{
    auto const at =
        std::lower_bound(rows.begin(), rows.end(), name,
                         [](Kind const& row, std::string_view wanted) { return row.name < wanted; });
    return at != rows.end() && at->name == name ? &*at : nullptr;
}

} // namespace guidepin::record
