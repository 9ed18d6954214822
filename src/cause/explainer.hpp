// SPDX-License-Identifier: Apache-2.0
// Explains readings: named causes with probabilities, from all links of a site together. It is a model, not a
// list of thresholds. It learns from the site's own links what is healthy, separates what moves all links
// under one reference from what moves one link, and weighs hypotheses that say what every position and
// wavelength should show; an explanation pays for its free parameters. Mathematics and measured rates:
// docs/methods/causes.md.
//
// The room starts no thread: measure() and explain() work on ranges of links and write to their places only.
// The result does not depend on the ranges. Verified by: tests/unit/cause/explainer.cpp (simulated sites,
// separation, ranges, healthy ones quiet), tests/oracle/cause/signatures.cpp (published signatures,
// properties), bench/explain.cpp (rates on many sites).
#pragma once

#include "cause/columns.hpp"
#include "cause/finding.hpp"
#include "cause/priors.hpp"

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

namespace guidepin::cause {

class Explainer
{
  public:
    /// Keeps a reference to both: they must live on. Columns may grow at the end (see renew()).
    Explainer(Columns const& columns, Priors const& priors);
    ~Explainer();
    Explainer(Explainer&&) noexcept;
    Explainer& operator=(Explainer&&) noexcept;

    /// Step 1, by ranges: condenses the readings of links first … last-1.
    void measure(std::size_t first, std::size_t last);
    /// Step 2: learns what is healthy here, and what references and test cords have done.
    void learn();
    /// Step 3, by ranges: explains links first … last-1.
    void explain(std::size_t first, std::size_t last);
    /// Step 4: returns all findings, most important first. Compares links over the whole site for wiring,
    /// labels and copies.
    std::vector<Finding> findings() const;

    /// Takes in a link that is new or was measured again: condenses it, fits its reference again, and
    /// explains it and all links under that reference and under `others` (references whose Columns::known
    /// changed). Keeps what was learned about the site's healthy links.
    void renew(std::size_t link, std::span<std::uint32_t const> others = {});

    struct Site;

  private:
    std::unique_ptr<Site> site_;
};

/// Sorts the most important first: what makes many readings worthless, then what fails, by probability, links
/// and size.
void order_findings(std::vector<Finding>& findings);

} // namespace guidepin::cause
