// SPDX-License-Identifier: Apache-2.0
// A strict reader of the XML 1.0 that a drawing may use: one root, matched tags, quoted attributes said once,
// the five named entities and numeric ones, no forbidden letters. Written for the tests, apart from the
// writer.
#pragma once

#include <map>
#include <set>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::samples {

struct XmlElement
{
    std::string name;
    std::map<std::string, std::string> attributes;
    std::string text; ///< directly inside, entities resolved
    std::vector<XmlElement> children;

    /// Every element of this name, in document order.
    void collect(std::string_view wanted, std::vector<XmlElement const*>& found) const
    {
        if (name == wanted) found.push_back(this);
        for (XmlElement const& child : children) child.collect(wanted, found);
    }
    /// They live as long as this element: not to be asked of a temporary.
    std::vector<XmlElement const*> all(std::string_view wanted) const&
    {
        std::vector<XmlElement const*> found;
        collect(wanted, found);
        return found;
    }
    std::vector<XmlElement const*> all(std::string_view wanted) const&& = delete;
};

class StrictXml
{
  public:
    /// Throws std::runtime_error with the offset of what is wrong.
    static XmlElement read(std::string_view text)
    {
        StrictXml reader(text);
        if (reader.text_.substr(0, 5) == "<?xml") {
            std::size_t const end = reader.text_.find("?>");
            reader.require(end != std::string_view::npos, "declaration without end");
            reader.at_ = end + 2;
        }
        reader.skip_space();
        XmlElement root = reader.element();
        reader.skip_space();
        reader.require(reader.at_ == text.size(), "something after the root");
        return root;
    }

  private:
    explicit StrictXml(std::string_view text)
        : text_(text)
    {
    }

    void require(bool holds, char const* what) const
    {
        if (!holds)
            throw std::runtime_error(std::string(what) + " at byte " + std::to_string(at_) + ": " +
                                     std::string(text_.substr(at_, 40)));
    }
    char peek() const
    {
        require(at_ < text_.size(), "end of text");
        return text_[at_];
    }
    bool taken(std::string_view word)
    {
        if (text_.substr(at_, word.size()) != word) return false;
        at_ += word.size();
        return true;
    }
    static bool is_space(char c) { return c == ' ' || c == '\n' || c == '\t' || c == '\r'; }
    static bool is_name(char c)
    {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
               c == ':' || c == '_';
    }
    void skip_space()
    {
        while (at_ < text_.size() && is_space(text_[at_])) ++at_;
    }
    std::string name()
    {
        std::size_t const start = at_;
        while (at_ < text_.size() && is_name(text_[at_])) ++at_;
        require(at_ > start, "a name is missing");
        return std::string(text_.substr(start, at_ - start));
    }
    void letter(std::string& into)
    {
        auto const byte = static_cast<unsigned char>(peek());
        require(byte >= 0x20 || byte == '\n' || byte == '\t', "a control letter");
        if (byte == '&') {
            for (auto const& [entity, value] :
                 {std::pair{"&lt;", '<'}, std::pair{"&gt;", '>'}, std::pair{"&amp;", '&'},
                  std::pair{"&quot;", '"'}, std::pair{"&apos;", '\''}, std::pair{"&#39;", '\''}}) {
                if (taken(entity)) {
                    into += value;
                    return;
                }
            }
            require(false, "an unknown entity");
        }
        // UTF-8, well formed, without surrogates and the two non-letters.
        std::size_t const length = byte < 0x80                   ? 1
                                   : byte >= 0xC2 && byte < 0xE0 ? 2
                                   : byte >= 0xE0 && byte < 0xF0 ? 3
                                   : byte >= 0xF0 && byte < 0xF5 ? 4
                                                                 : 0;
        require(length > 0 && at_ + length <= text_.size(), "a broken letter");
        for (std::size_t k = 1; k < length; ++k)
            require((static_cast<unsigned char>(text_[at_ + k]) & 0xC0) == 0x80, "a broken letter");
        std::string_view const bytes = text_.substr(at_, length);
        require(bytes != "\xEF\xBF\xBE" && bytes != "\xEF\xBF\xBF" &&
                    !(byte == 0xED && static_cast<unsigned char>(bytes[1]) > 0x9F),
                "a forbidden letter");
        into += bytes;
        at_ += length;
    }
    XmlElement element()
    {
        require(taken("<"), "an element is missing");
        XmlElement result;
        result.name = name();
        while (true) {
            bool const spaced = is_space(peek());
            skip_space();
            if (taken("/>")) return result;
            if (taken(">")) break;
            require(spaced, "no space before an attribute");
            std::string const attribute = name();
            require(taken("=\""), "an attribute without quotes");
            std::string value;
            while (peek() != '"') {
                require(peek() != '<', "< in an attribute");
                letter(value);
            }
            ++at_;
            require(result.attributes.emplace(attribute, value).second, "an attribute said twice");
        }
        while (true) {
            if (taken("</")) {
                require(name() == result.name, "a tag that does not match");
                require(taken(">"), "a tag without end");
                return result;
            }
            if (peek() == '<') {
                result.children.push_back(element());
            } else {
                letter(result.text);
            }
        }
    }

    std::string_view text_;
    std::size_t at_ = 0;
};

} // namespace guidepin::samples
