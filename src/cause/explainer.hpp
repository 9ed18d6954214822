// SPDX-License-Identifier: Apache-2.0
// Why readings are as they are: named causes with probabilities, from all links of a site together. A model,
// not a list of thresholds: what is healthy is learned from the site's own links; what moves all links under
// one reference is separated from what moves one link; each hypothesis says what every position and
// wavelength should show, and the best explanation pays for its free parameters. Mathematics and the figures
// that were reached: docs/methods/causes.md.
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
    /// Step 2: what is healthy here; what references and test cords have done.
    void learn();
    /// Step 3, by ranges: explains links first … last-1.
    void explain(std::size_t first, std::size_t last);
    /// Step 4: everything, most important first. Wiring, labels and copies are looked for over the whole
    /// site.
    std::vector<Finding> findings() const;

    /// A link came in, or was measured again: condenses it, looks at its reference anew, explains it and all
    /// that was measured under that reference, and under `others` (references of which Columns::known is
    /// another). What is known of the site's healthy links is left as learned.
    void renew(std::size_t link, std::span<std::uint32_t const> others = {});
    /// Those of findings() that name this link, most important first, without looking for those that do not.
    std::vector<Finding> findings_of(std::size_t link) const;

    struct Site;

  private:
    std::unique_ptr<Site> site_;
};

/// All of it on the calling thread.
std::vector<Finding> explain(Columns const& columns, Priors const& priors);

/// Most important first: what makes many readings worthless, then what fails, by probability, links and size.
void order_findings(std::vector<Finding>& findings);

} // namespace guidepin::cause
