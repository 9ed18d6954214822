// SPDX-License-Identifier: Apache-2.0
// Chapters that more than one document has.
#pragma once

#include "report/flow.hpp"

namespace guidepin::report {

/// QR code with the hash below it, right-aligned at the top right; returns its width.
Result<double> place_qr(Flow& flow, std::string const& hash, double top, double size);

void unconfirmed_chapter(Flow& flow, std::vector<Unconfirmed> const& values);
void sources_chapter(Flow& flow, std::vector<Cited> const& sources);
/// Who tested and who accepts, with room to sign, and whose decision acceptance is.
void sign_off(Flow& flow);
/// What the signs of the row mean, on one line.
void legend(Flow& flow);

} // namespace guidepin::report
