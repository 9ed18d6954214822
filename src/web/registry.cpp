// SPDX-License-Identifier: Apache-2.0
// Every page, in the order of the menu.
#include "web/pages/pages.hpp"

#include <array>

namespace guidepin::web {

namespace {

constexpr std::array registry{
    Page{"GET", "/", "Today", &today_page, Access::read, "The progress of the job, and what to do now", true},
    Page{"GET", "/links", "Links", &links_page, Access::read,
         "Every link with its row; find one by a part of its name", true},
    Page{"POST", "/links/code", "Read a code", &read_label, Access::note,
         "Finds the link whose code is in a picture"},
    Page{"GET", "/link", "One link", &link_page, Access::read,
         "One link: light path, losses, limit, polarity, earlier tests, applications", false, "?id=N-07"},
    Page{"POST", "/link/readings", "Enter readings", &enter_readings, Access::enter,
         "Readings typed by hand"},
    Page{"POST", "/link/note", "Add a note", &add_note, Access::note, "A note or a photo on a link"},
    Page{"GET", "/photo", "Photo", &photo, Access::read, "The photo of a note"},
    Page{"GET", "/findings", "Findings", &findings_page, Access::read,
         "What all readings together show, most important first, and what to do", true},
    Page{"POST", "/findings/acknowledge", "Acknowledge a finding", &acknowledge_finding, Access::lead,
         "A lead accepts a finding, with a reason"},
    Page{"GET", "/reference", "Reference", &reference_page, Access::read,
         "References and cord checks: powers, spread, and why each was accepted or refused", true},
    Page{"POST", "/reference/take", "Take a reference", &take_reference, Access::enter,
         "Powers of a reference"},
    Page{"POST", "/reference/type", "Type a reference", &type_reference, Access::enter,
         "Powers of a reference, typed by hand"},
    Page{"POST", "/reference/type-check", "Type a cord check", &type_check, Access::enter,
         "A cord check, typed by hand"},
    Page{"POST", "/reference/check", "Check the cords", &take_check, Access::enter, "A cord check"},
    Page{"POST", "/reference/event", "Record an event", &note_event, Access::enter,
         "Something that voids a reference"},
    Page{"POST", "/reference/rely", "Rely on a reference", &rely_on_reference, Access::lead,
         "A lead relies on a doubted reference, with a reason"},
    Page{"GET", "/bring-in", "Bring in", &bring_in_page, Access::read,
         "Readings and schedules from files, with a preview", true},
    Page{"POST", "/bring-in/look", "Preview a file", &look_at_file, Access::enter,
         "What a file would bring in"},
    Page{"GET", "/bring-in/file", "A file before it is brought in", &file_page, Access::enter,
         "The proposed column map and what would come in"},
    Page{"POST", "/bring-in/map", "Correct the columns", &correct_map, Access::enter, "Another column map"},
    Page{"POST", "/bring-in/keep", "Bring in", &keep_file, Access::enter, "The previewed file comes in"},
    Page{"POST", "/bring-in/schedule", "Bring in the schedule", &bring_schedule, Access::enter,
         "The schedule of links"},
    Page{"POST", "/bring-in/withdraw", "Withdraw an import", &withdraw, Access::lead,
         "An import no longer counts, with a reason"},
    Page{"GET", "/site-map", "Site map", &site_map_page, Access::read,
         "Margins zone by zone, links by positions", true},
    Page{"GET", "/set-up", "Set-up", &set_up_page, Access::read,
         "Which cords, pins and steps the cabling needs", true},
    Page{"GET", "/set-up/card", "Job card", &setup_card, Access::read, "The card of a set-up, for the rack",
         false, "?group=1"},
    Page{"POST", "/set-up/choose", "Use a set-up", &choose_setup, Access::enter,
         "A set-up is recorded and used, step by step"},
    Page{"POST", "/set-up/step", "Tick a step", &tick_step, Access::enter, "A step of the set-up is done"},
    Page{"GET", "/hand-over", "Hand over", &hand_over_page, Access::read, "What is missing, and the package",
         true},
    Page{"POST", "/hand-over/build", "Build the package", &build_package, Access::lead,
         "Certificates and tables"},
    Page{"GET", "/package", "A file of the package", &package_file, Access::read,
         "A file of the package built last"},
    Page{"GET", "/kit", "Kit and people", &kit_page, Access::read,
         "Instruments, cords, people and their roles", true},
    Page{"GET", "/kit/item", "An item of the kit", &kit_item_page, Access::read,
         "One item: its ends, wear, inspections and decisions", false, "?id=L-1"},
    Page{"POST", "/kit/add", "Bring in a kit file", &add_kit, Access::lead, "Items of the kit, and limits"},
    Page{"POST", "/kit/pins", "Change pins", &change_pins, Access::enter, "Pins were changed or counted"},
    Page{"POST", "/kit/inspection", "Enter an inspection", &enter_inspection, Access::enter,
         "What was seen on an end face"},
    Page{"POST", "/kit/override", "Use it anyway", &override_item, Access::lead,
         "A refused item is used, with a reason"},
    Page{"POST", "/kit/limits", "Limits", &limit_kit, Access::lead, "Limits of the register or of an item"},
    Page{"POST", "/kit/leave", "Leave the kit", &leave_kit, Access::lead, "An item leaves or was renewed"},
    Page{"POST", "/people", "Add a person", &name_person, Access::lead, "A person and a role"},
    Page{"POST", "/people/code", "Pair a device", &pairing_code, Access::lead,
         "A code for a person's device"},
    Page{"GET", "/pair", "Pair this device", &pair_page, Access::anybody, "A device joins with a code"},
    Page{"POST", "/pair", "Pair this device", &pair, Access::anybody, "A device joins with a code"},
    Page{"POST", "/certificate/seen", "The new certificate was compared", &certificate_seen, Access::note,
         "A device knows the workbench by its new certificate"},
    Page{"POST", "/leave", "Leave", &leave, Access::note, "The session of this device ends"},
    Page{"GET", "/token", "Token", &token, Access::read,
         "The token that each change of this session must carry"},
    Page{"GET", "/pages.json", "Pages", &page_list, Access::read, "Every page and who may open it, as JSON"},
    Page{"GET", "/about", "More", &about_page, Access::anybody, "Cautions, keys, every page", true},
};

} // namespace

std::span<Page const> pages()
{
    return registry;
}

} // namespace guidepin::web
