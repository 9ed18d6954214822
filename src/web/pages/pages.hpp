// SPDX-License-Identifier: Apache-2.0
// Each page has its own file and names its functions here. A page shows things and takes input; the rooms of
// job/ do the work.
#pragma once

#include "web/page.hpp"

namespace guidepin::web {

Result<Reply> today_page(Desk& desk, Exchange const& exchange);
Result<Reply> links_page(Desk& desk, Exchange const& exchange);
Result<Reply> read_label(Desk& desk, Exchange const& exchange);
Result<Reply> link_page(Desk& desk, Exchange const& exchange);
Result<Reply> enter_readings(Desk& desk, Exchange const& exchange);
Result<Reply> add_note(Desk& desk, Exchange const& exchange);
Result<Reply> photo(Desk& desk, Exchange const& exchange);
Result<Reply> reference_page(Desk& desk, Exchange const& exchange);
Result<Reply> take_reference(Desk& desk, Exchange const& exchange);
Result<Reply> type_reference(Desk& desk, Exchange const& exchange);
Result<Reply> type_check(Desk& desk, Exchange const& exchange);
Result<Reply> take_check(Desk& desk, Exchange const& exchange);
Result<Reply> note_event(Desk& desk, Exchange const& exchange);
Result<Reply> rely_on_reference(Desk& desk, Exchange const& exchange);
Result<Reply> bring_in_page(Desk& desk, Exchange const& exchange);
Result<Reply> look_at_file(Desk& desk, Exchange const& exchange);
Result<Reply> file_page(Desk& desk, Exchange const& exchange);
Result<Reply> correct_map(Desk& desk, Exchange const& exchange);
Result<Reply> keep_file(Desk& desk, Exchange const& exchange);
Result<Reply> bring_schedule(Desk& desk, Exchange const& exchange);
Result<Reply> withdraw(Desk& desk, Exchange const& exchange);
Result<Reply> site_map_page(Desk& desk, Exchange const& exchange);
Result<Reply> findings_page(Desk& desk, Exchange const& exchange);
Result<Reply> acknowledge_finding(Desk& desk, Exchange const& exchange);
Result<Reply> set_up_page(Desk& desk, Exchange const& exchange);
Result<Reply> choose_setup(Desk& desk, Exchange const& exchange);
Result<Reply> setup_card(Desk& desk, Exchange const& exchange);
Result<Reply> tick_step(Desk& desk, Exchange const& exchange);
Result<Reply> hand_over_page(Desk& desk, Exchange const& exchange);
Result<Reply> build_package(Desk& desk, Exchange const& exchange);
Result<Reply> package_file(Desk& desk, Exchange const& exchange);
Result<Reply> kit_page(Desk& desk, Exchange const& exchange);
Result<Reply> kit_item_page(Desk& desk, Exchange const& exchange);
Result<Reply> add_kit(Desk& desk, Exchange const& exchange);
Result<Reply> change_pins(Desk& desk, Exchange const& exchange);
Result<Reply> enter_inspection(Desk& desk, Exchange const& exchange);
Result<Reply> override_item(Desk& desk, Exchange const& exchange);
Result<Reply> limit_kit(Desk& desk, Exchange const& exchange);
Result<Reply> leave_kit(Desk& desk, Exchange const& exchange);
Result<Reply> name_person(Desk& desk, Exchange const& exchange);
Result<Reply> pairing_code(Desk& desk, Exchange const& exchange);
Result<Reply> pair_page(Desk& desk, Exchange const& exchange);
Result<Reply> pair(Desk& desk, Exchange const& exchange);
Result<Reply> certificate_seen(Desk& desk, Exchange const& exchange);
Result<Reply> leave(Desk& desk, Exchange const& exchange);
Result<Reply> token(Desk& desk, Exchange const& exchange);
Result<Reply> page_list(Desk& desk, Exchange const& exchange);
Result<Reply> about_page(Desk& desk, Exchange const& exchange);

} // namespace guidepin::web
