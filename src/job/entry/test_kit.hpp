// SPDX-License-Identifier: Apache-2.0
// The kit that one reference is taken with. Verified by: tests/unit/job/kit_register.cpp.
#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// Serials, each empty if the item was not used or is not known. Fill it by the names of its members: five
/// strings in a row are easily exchanged.
struct TestKit
{
    std::string source = {}, meter = {}, launch = {}, tail = {}, substitution = {};

    bool names(std::string_view serial) const
    {
        return source == serial || meter == serial || launch == serial || tail == serial ||
               substitution == serial;
    }
    /// Returns the serials that are named, each once.
    std::vector<std::string> serials() const
    {
        std::vector<std::string> named;
        for (std::string const* serial : {&source, &meter, &launch, &tail, &substitution}) {
            if (!serial->empty() && std::find(named.begin(), named.end(), *serial) == named.end())
                named.push_back(*serial);
        }
        return named;
    }
};

} // namespace guidepin::job
