using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using Xunit;
using static GrooveLab.Exchange.Tests.Charts.ChartTexts;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Charts with one mistake each: exactly one problem, at its place, with its remedy.</summary>
public sealed class BrokenChartTests
{
    /// <summary>Text, line, column, a part of the problem, a part of the remedy.</summary>
    public static TheoryData<string, int, int, string, string> Broken => new()
    {
        // Remarks inside quotes.
        { WithSection("chords = \"\"\"\n| Dm | C |  # a remark here\n| F | Am |\n\"\"\""), 8, 13, "a remark cannot be among the chords", "a line of its own" },
        { WithSection("chords = \"\"\"\n# the first line\n| Dm | C |\n\"\"\""), 8, 1, "a remark cannot be among the chords", "a line of its own" },
        { WithSection("chords = \"| Dm | C #3 |\""), 7, 20, "a remark cannot be among the chords", "a line of its own" },
        { WithTune(2, "notes = \"\"\"\n| D4:5 |  # low\n| F4:5 |\n\"\"\""), 11, 11, "a remark cannot be among the notes", "a line of its own" },
        { WithTune(2, "pickup = \"A4:1 # up\"\nnotes = \"| D4:5 | F4:5 |\""), 10, 16, "a remark cannot be among the notes", "a line of its own" },
        { WithTune(2, "notes = \"| D4:5 | F4:5 |\"\nwords = \"\"\"\nOh  # softly\nmy\"\"\""), 12, 5, "a remark cannot be among the words", "a line of its own" },

        // Keys at the top.
        { WithSection("chords = \"Dm\"").Replace("format = 1\n", "", StringComparison.Ordinal), 1, 1, "has no chart format", "format = 2" },
        { WithSection("chords = \"Dm\"").Replace("format = 1", "format = 3", StringComparison.Ordinal), 1, 10, "format 3", "format = 2" },
        { WithSection("chords = \"Dm\"").Replace("format = 1", "format = \"one\"", StringComparison.Ordinal), 1, 10, "must be a number", "format = 2" },
        { WithSection("chords = \"Dm\"").Replace("title = \"Test\"", "title = 7", StringComparison.Ordinal), 2, 9, "text in quotes", "title = \"" },
        { WithSection("chords = \"Dm\"").Replace("title =", "titel =", StringComparison.Ordinal), 2, 1, "'titel' is not a key", "did you mean title?" },
        { WithSection("chords = \"Dm\"").Replace("key = \"D dorian\"\n", "", StringComparison.Ordinal), 1, 1, "has no key", "key = \"D dorian\"" },
        { WithSection("chords = \"Dm\"").Replace("D dorian", "D dorain", StringComparison.Ordinal), 3, 8, "is not a mode", "dorian" },
        { WithSection("chords = \"Dm\"").Replace("tempo = \"eighth = 260\"\n", "", StringComparison.Ordinal), 1, 1, "has no tempo", "eighth = 300" },
        { WithSection("chords = \"Dm\"").Replace("\"eighth = 260\"", "120", StringComparison.Ordinal), 4, 9, "text in quotes", "a beat and its number per minute" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "120", StringComparison.Ordinal), 4, 10, "has no beat", "bar = 60" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "eigth = 260", StringComparison.Ordinal), 4, 10, "'eigth' is neither a note value", "dotted quarter" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "eighth = fast", StringComparison.Ordinal), 4, 10, "'fast' is not a number", "eighth = 300" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "eighth = 90000", StringComparison.Ordinal), 4, 9, "whole notes per minute", "are accepted" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "bar = 0.00001", StringComparison.Ordinal), 4, 9, "the tempo bar = 0.00001 makes 0.00000625 whole notes per minute", "are accepted" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "1/12 = 0.0004", StringComparison.Ordinal), 4, 9, "1/12 = 0.0004 makes 0.0000333 whole notes per minute", "are accepted" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "bar = 0.000001", StringComparison.Ordinal), 4, 10, "'0.000001' is not a number from 0.00001 to 100000", "bar = 60" },
        { WithSection("chords = \"Dm\"").Replace("eighth = 260", "group = 90", StringComparison.Ordinal), 4, 9, "groups of one length", "the unit, a note or the bar" },
        { WithSection("chords = \"Dm\"").Replace("meter = \"5/8 3+2\"\n", "", StringComparison.Ordinal), 5, 1, "has a meter", "meter = \"5/8 3+2\"" },
        { WithSection("chords = \"Dm\"").Replace("5/8 3+2", "5/8 3+3", StringComparison.Ordinal), 5, 10, "adds up to 6", "add up to 5" },
        { WithSection("chords = \"Dm\"").Replace("5/8 3+2", "65/8", StringComparison.Ordinal), 5, 10, "'65/8' is not a meter", "1 to 64" },
        { WithSection("chords = \"Dm\"").Replace("5/8 3+2", "5/8, 7/8", StringComparison.Ordinal), 5, 10, "not one meter", "[\"5/8 3+2\"" },
        { WithSection("chords = \"Dm\"").Replace("\"5/8 3+2\"", "5/8", StringComparison.Ordinal), 5, 9, "neither a text in quotes", "meter = \"5/8\"" },
        { Top + "grouping = \"2+3\"\n[[section]]\nchords = \"Dm\"\n", 6, 12, "two groupings", "keep one" },
        { WithSection("chords = \"Dm\"").Replace("\"5/8 3+2\"", "[\"5/8\", \"7/8\"]\ngrouping = \"3+2\"", StringComparison.Ordinal), 6, 12, "meters that alternate", "after its meter" },
        { Top + "bar-groups = 0\n[[section]]\nchords = \"Dm\"\n", 6, 14, "how many bars are felt as one", "[4, 4, 2]" },
        { Top + "feel = \"beat\"\n[[section]]\nchords = \"Dm\"\n", 6, 9, "'beat'", "\"bar-group\"" },
        { Top + "counted = \"bars\"\n[[section]]\nchords = \"Dm\"\n", 6, 12, "'bars'", "\"units\" or \"groups\"" },
        { Top + "looseness = 3\n[[section]]\nchords = \"Dm\"\n", 6, 13, "from 0 to 2", "write looseness = 2 at most" },
        { Top + "swing = 4\n[[section]]\nchords = \"Dm\"\n", 6, 9, "neither a ratio nor a number from 1 to 3", "swing = \"2:1\"" },
        { Top + "swing = \"1:2\"\n[[section]]\nchords = \"Dm\"\n", 6, 10, "neither a ratio nor a number from 1 to 3", "from 1 (even) to 3" },
        { Top + "drone = 90\n[[section]]\nchords = \"Dm\"\n", 6, 9, "whole number from 0 to 60", "write drone = 60 at most" },
        { Top + "trains = \"\"\"\none\ntwo\"\"\"\n[[section]]\nchords = \"Dm\"\n", 7, 1, "one line", "write one line" },
        { Top + "learner-tempo = \"40\"\n[[section]]\nchords = \"Dm\"\n", 6, 18, "has no beat", "bar = 60" },
        { Top + "learner-tempo = \"bar = 0.1\"\n[[section]]\nchords = \"Dm\"\n", 6, 17, "whole notes per minute", "are accepted" },
        { Top + "seed = -4\n[[section]]\nchords = \"Dm\"\n", 6, 8, "at least 0", "seed = 7" },
        { Top + "times = 0\n[[section]]\nchords = \"Dm\"\n", 6, 9, "from 1 to 1000", "write times = 1 at least" },
        { Top + "ending = \"loud\"\n[[section]]\nchords = \"Dm\"\n", 6, 11, "'loud' cannot be the last chord", "ending = \"Dm\"" },
        { Top + "form = [\"vers\"]\n[[section]]\nname = \"verse\"\nchords = \"Dm\"\n", 6, 10, "no section called 'vers'", "did you mean 'verse'?" },
        { Top + "form = [\"A\", \"B\"]\n[[section]]\nchords = \"Dm\"\n", 6, 15, "no section called 'B'", "sections: 'A'" },
        { Top + "form = [\"A x0\"]\n[[section]]\nchords = \"Dm\"\n", 6, 10, "a number of times from 1 to 1000", "verse x2" },
        { Top + "form = [\"A x500\"]\n[[section]]\nbars = 100\nchords = \"Dm\"\n", 6, 8, "50000 bars", "times = 10" },
        { Top + "form = [\"A\", \"Z\"]\n[[section]]\nchords = \"Dm\"\n[[section]]\nchords = \"C\"\n", 6, 15, "no section called 'Z'", "sections: 'A' and 'B'" },
        { Top + "times = \"2\"\n[[section]]\nchords = \"Dm\"\n", 6, 9, "whole number", "write it without quotes: times = 2" },
        { Top + "times = 2.5\n[[section]]\nchords = \"Dm\"\n", 6, 9, "whole number", "write it without a fraction: times = 3" },
        { Top + "chords = \"Dm\"\n[[section]]\nchords = \"Dm\"\n", 6, 1, "'chords' is not a key of a chart", "below a [[section]]" },
        { Top, 1, 1, "no section", "[[section]]" },

        // The band.
        { Top + "[[part]]\ninstrument = \"banjo\"\n[[section]]\nchords = \"Dm\"\n", 6, 1, "no role", "role = \"pulse\"" },
        { Top + "[[part]]\nrole = \"puls\"\n[[section]]\nchords = \"Dm\"\n", 7, 9, "'puls' is not a role", "did you mean \"pulse\"?" },
        { Top + "[[part]]\nrole = \"roll\"\ninstrument = \"banjoo\"\n[[section]]\nchords = \"Dm\"\n", 8, 15, "no instrument called 'banjoo'", "did you mean \"banjo\"?" },
        { Top + "[[part]]\nrole = \"count\"\ninstrument = \"banjo\"\n[[section]]\nchords = \"Dm\"\n", 8, 15, "cannot play the role count", "clicks" },
        { Top + "[[part]]\nrole = \"pulse\"\nregister = \"C1-C3\"\n[[section]]\nchords = \"Dm\"\n", 8, 13, "the bouzouki goes from G2 to D6", "register = \"G2-D6\"" },
        { Top + "[[part]]\nrole = \"pulse\"\nregister = \"G2-A2\"\n[[section]]\nchords = \"Dm\"\n", 8, 13, "less than an octave", "at least an octave" },
        { Top + "[[part]]\nrole = \"pulse\"\nlevel = 20\n[[section]]\nchords = \"Dm\"\n", 8, 9, "from -60 to 6", "write level = 6 at most" },
        { Top + "[[part]]\nrole = \"pulse\"\npan = \"left\"\n[[section]]\nchords = \"Dm\"\n", 8, 7, "whole number from -100 to 100", "without quotes" },
        { Top + "[[part]]\nrole = \"bass\"\nstrokes = \"down\"\n[[section]]\nchords = \"Dm\"\n", 8, 1, "not a key of a part", "a setting of the role pulse; bass has approaches and ring" },
        { Top + "[[part]]\nrole = \"roll\"\ncrossing = \"over\"\n[[section]]\nchords = \"Dm\"\n", 8, 13, "crossing cannot be 'over'", "\"land\"" },
        { Top + "[[part]]\nrole = \"pulse\"\ndamped = \"no\"\n[[section]]\nchords = \"Dm\"\n", 8, 10, "true or false", "damped = true" },
        { Top + "[[part]]\nname = \"a\"\nrole = \"pulse\"\n[[part]]\nname = \"A\"\nrole = \"roll\"\n[[section]]\nchords = \"Dm\"\n", 10, 9, "two parts are named 'A'", "a different name" },
        { Top + "[[part]]\nname = \"a/b\"\nrole = \"pulse\"\n[[section]]\nchords = \"Dm\"\n", 7, 9, "cannot be a part's name", "letters" },
        { Top + "[[part]]\nrole = \"pulse\"\nform = [\"A\"]\n[[section]]\nchords = \"Dm\"\n", 8, 1, "'form' is not a key of a part", "at the top of the file" },

        // Sections and chords.
        { WithSection("play = 3\nchords = \"Dm\""), 7, 8, "a list of names in quotes", "names of parts or roles" },
        { WithSection("play = [\"cello\", \"bouzuki\"]\nchords = \"Dm\""), 7, 19, "no part called 'bouzuki'", "did you mean 'bouzouki'? parts and roles: 'bouzouki'" },
        { WithSection("play = [\"harp\"]\nchords = \"Dm\""), 7, 10, "no part called 'harp'", "'clicks', 'pulse', 'roll'" },
        { WithSection("stop-time = \"yes\"\nchords = \"Dm\""), 7, 13, "true or false", "stop-time = true" },
        { WithSection("break = 3\nchords = \"| Dm | C |\""), 7, 9, "the break takes 3 bars, but the section has 2", "write break = 2 at most" },
        { WithSection("hold = 61\nchords = \"Dm\""), 7, 8, "whole number from 0 to 60", "write hold = 60 at most" },
        { Top + "tag = [\"B\"]\n[[section]]\nchords = \"Dm\"\n", 6, 9, "no section called 'B'", "sections: 'A'" },
        { Top + "tag = 2\n[[section]]\nchords = \"Dm\"\n", 6, 7, "tag must be a list", "names of sections" },
        { Top + "[[part]]\nrole = \"tune\"\nlaid-back = \"bar\"\n[[section]]\nchords = \"Dm\"\n", 8, 14, "laid-back cannot be 'bar'", "\"half\"" },
        { WithSection("vamp = 2\nchords = \"Dm\""), 7, 8, "true or false", "vamp = true" },
        { Top + "[section]\nchords = \"Dm\"\n", 6, 1, "single brackets", "[[section]]" },
        { WithSection("name = \"A\""), 6, 1, "no chords", "chords = \"| Am" },
        { WithSection("chords = \"| Dm | Hm |\""), 7, 18, "such as Am7", "N.C." },
        { WithSection("chords = \"| Dm | C G F |\""), 7, 18, "bar 2 has 3 marks", "one chord for the whole bar, 2 (one for each group of 3+2) or 5 (one for each eighth" },
        { WithSection("meter = \"5/8 none\"\nchords = \"| Dm C |\""), 8, 13, "2 marks, which do not fit its meter 5/8 none", "one chord for the whole bar or 5 (one for each eighth" },
        { WithSection("chords = \"\"\"\n| Dm | C |\n  | F | C G F |\n\"\"\""), 9, 9, "bar 4 has 3 marks", "one chord for the whole bar" },
        { WithSection("meter = \"3/4\"\nchords = \"| Dm | G A |\""), 8, 18, "bar 2 has 2 marks", "give the meter a grouping such as 3/4 2+1" },
        { WithSection("meter = \"7/8\"\nchords = \"| Dm | G A C |\""), 8, 18, "bar 2 has 3 marks", "give the meter a grouping such as 7/8 3+2+2" },
        { WithSection("chords = \"| D m | G |\""), 7, 15, "'D m' has a space inside", "no space inside a chord: write Dm" },
        { WithSection("chords = \"| Dm | C maj 7 A |\""), 7, 20, "'C maj 7'", "write Cmaj7" },
        { WithSection("chords = \"| % | C |\""), 7, 13, "no bar before it", "write the chord" },
        { WithSection("chords = \"| Dm | % C |\""), 7, 18, "% repeats a whole bar", "stand alone" },
        { WithSection("chords = \"| Dm | | C |\""), 7, 18, "nothing in this bar", "% to repeat the bar before" },
        { WithSection("chords = \"| / Dm |\""), 7, 13, "there is none", "write the chord" },
        { WithSection("chords = \"| Dm | [2/4 G |\""), 7, 18, "bracket is not closed", "[2/4] G" },
        { WithSection("chords = \"| Dm | G [2/4] |\""), 7, 20, "inside a bar", "at the bar's beginning" },
        { WithSection("chords = \"| Dm | [2/x] G |\""), 7, 19, "'2/x' is not a meter", "5/8" },
        { WithSection("chords = \"| Dm | [2/4] |\""), 7, 18, "no chord", "[2/4] G" },
        { WithSection("chords = \"|: Dm | C :|\""), 7, 11, "repeat signs", "repeat = 2" },
        { WithSection("chords = \"| Dm C | [7/8 2+2+3] % |\""), 7, 20, "bar 2 repeats a bar of 2 marks", "3 (one for each group" },
        { WithSection("bars = 1\nchords = \"| Dm | C |\""), 7, 8, "1 bar, but its chords fill 2", "bars = 2" },
        { WithSection("bars = 30000\nchords = \"Dm\""), 7, 8, "from 1 to 20000", "write bars = 20000 at most" },
        { WithSection("chords = 5"), 7, 10, "text in quotes", "chords = \"" },
        { WithSection("chords = \"Dm\"\ntempo = \"fast\""), 8, 10, "'fast' is not a tempo", "to eighth = 320" },
        { WithSection("chords = \"Dm\"\ntempo = \"to eighth = 300 over 3 bars\""), 8, 9, "3 bars, but the section has 1", "over 1 bar at most" },
        { WithSection("chords = \"Dm\"\njoin = \"eighth\""), 8, 9, "not a join", "eighth = quarter" },
        { WithSection("chords = \"Dm\"\ntempo = \"eighth = 200\"\njoin = \"bar = bar\""), 9, 1, "both set the speed", "keep one" },
        { WithSection("chords = \"Dm\"\nnotes = \"D4:5\""), 8, 1, "'notes' is not a key of a section", "below [section.tune]" },
        { WithSection("name = \"A\"\nchords = \"Dm\"\n[[section]]\nname = \"a\"\nchords = \"C\""), 10, 9, "two sections are named 'a'", "a different name" },

        // Tune and words; the tune's header is line 9.
        { WithTune(1, "notes = \"| D4:3 E4:1 |\""), 10, 12, "bar 1 of the tune is 4 units long where 5/8 has 5: 1/8 of a whole note (1 unit) is missing", "rests (r)" },
        { WithTune(1, "notes = \"| D4:3 E4:4 |\""), 10, 12, "1/4 of a whole note (2 units) is too much", "tie a note over" },
        { WithTune(2, "notes = \"\"\"\n| D4:3 E4:2 |\n| D4:3 E4 |\n\"\"\""), 12, 3, "bar 2 of the tune is 6 units long", "shorten it" },
        { WithTune(1, "notes = \"| H4:5 |\""), 10, 12, "'H4' is not a pitch (the note below C is B", "G4:1/8" },
        { WithTune(1, "notes = \"| D:5 |\""), 10, 12, "octave", "G4:1/8" },
        { WithTune(1, "notes = \"| D4:x |\""), 10, 15, "'x' is not a length", "1/8 is an eighth" },
        { WithTune(1, "notes = \"| D4:3~ E4:2 |\""), 10, 18, "a tie leads here from D4", "same pitch" },
        { WithTune(1, "notes = \"| D4:5~ |\""), 10, 12, "tied to nothing", "leave out its ~" },
        { WithTune(1, "notes = \"| {3:2 D4:1/8 E4 F4 G4:3 |\""), 10, 12, "not closed in its bar", "end it with }" },
        { WithTune(1, "notes = \"| {D4:1/8 E4 F4} G4:3 |\""), 10, 12, "has no ratio", "{3:2" },
        { WithTune(1, "notes = \"| (x)D4:5 |\""), 10, 12, "grace note 'x'", "(F#4)G4" },
        { WithTune(2, "notes = \"| D4:5 |\""), 10, 10, "the tune has 1 bar, but the section has 2 bars", "write r for every bar" },
        { WithTune(1, "notes = \"| D4:5 | E4:5 |\""), 10, 10, "the tune has 2 bars, but the section has 1 bar", "leave out" },
        { WithTune(1, "pickup = \"D4:20\"\nnotes = \"| D4:5 |\""), 10, 11, "the pickup is 20 units long, and 4 bars of 5/8 have 20", "shorter than 4 bars" },
        { WithTune(1, "words = [\"la\"]"), 9, 1, "no notes", "notes = " },
        { WithTune(1, "notes = \"| C2:5 |\""), 10, 12, "C2 is outside the range of the concertina", "octaves = 1" },
        { WithTune(1, "notes = \"| D4:5 |\"\nwords = [\"la la\"]"), 11, 14, "no note left for 'la'", "one syllable per note" },
        {
            WithTune(3, "notes = \"| D4:5 | E4:1 F4 G4 F4 E4 | D4:2 C4 D4:1 |\"\nwords = [\"The | har_-bour _ _ gate, | the tide _ |\"]"), 11, 37,
            "bar 2 has 5 notes but 6 syllables before this |", "every bar line of the tune or none"
        },
        {
            WithTune(2, "pickup = \"A3:1\"\nnotes = \"| D4:5 | E4:5 |\"\nwords = [\"la la | la | la\"]"), 12, 17,
            "the pickup has 1 note but 2 syllables before this |", "_ or *"
        },
        {
            WithTune(3, "notes = \"| D4:5 | E4:2 F4:3 | G4:5 |\"\nwords = [\"la | | la\"]"), 11, 16,
            "bar 2 has 2 notes but no syllable before this |", "_ or *"
        },
        { WithTune(2, "notes = \"| D4:5 | E4:5 |\"\nwords = [\"la | la | la\"]"), 11, 21, "no note left for 'la': the tune has 2 notes", "one syllable per note" },
        { WithTune(1, "notes = \"| D4:5 |\"\nwords = [\"_\"]"), 11, 11, "there is no syllable before it", "write *" },
        { WithTune(2, "notes = \"| D4:3 E4:2 | F4:5 |\"\nwords = [\"la | la la\"]"), 11, 14, "bar 1 has 2 notes but 1 syllable before this |", "_ or *" },
        { WithTune(1, "notes = \"| D4:5 |\"\nwords = 3"), 11, 9, "list of", "one text for each verse" },

        { WithTune(1, "notes = \"| D4:1/9973 E4:1/9967 F4:1/9949 G4:1/9941 A4:1/9931 |\""), 9, 1, "cannot be combined exactly", "fewer different denominators" },

        { WithTune(1, "notes = \"| [2/4] D4:5 |\""), 10, 12, "a meter is among the notes", "the chords set" },
        { Top + "[[sections]]\nchords = \"Dm\"\n", 6, 1, "'sections' is not a key of a chart", "did you mean section?" },
        {
            Top + string.Concat(Enumerable.Repeat("[[part]]\nrole = \"pulse\"\n", 31)) + "[[section]]\nchords = \"Dm\"\n", 66, 1, "31 parts", "30 at most"
        },
        {
            Top + "form = [\"A\"]\n[[section]]\nbars = 20000\nchords = \"Dm\"\n[[section]]\nchords = \"Dm\"\n[[section]]\nchords = \"Dm\"\n", 10, 1,
            "more than 20000 bars", "form and times"
        },

        // Invalid TOML.
        { Top + "bar groups = 4\n[[section]]\nchords = \"Dm\"\n", 6, 1, "'bar groups' has a space", "bar-groups" },
        { WithSection("chords = | Dm | C |"), 7, 10, "neither a text in quotes", "chords = \"| Dm | C |\"" },
        { WithSection("chords = \"| Dm | C |\nname = \"A\""), 7, 10, "no closing \"", "end it with \"" },
        { WithSection("chords = \"\"\"\n| Dm | C |\nname = \"A\""), 7, 10, "is not closed", "\"\"\"" },
        { WithSection("chords = \"\"\"\n| Dm | C |"), 7, 10, "is not closed", "\"\"\"" },
        { WithSection("chords = \"Dm\" C"), 7, 14, "there is text after", "one key and its value" },
        { WithSection("chords = \"Dm\"\nkey ="), 8, 6, "key has no value", "after the =" },
        { WithSection("chords = \"Dm\"\nhello"), 8, 1, "'hello' is neither a key", "# before a remark" },
        { WithSection("chords = \"Dm\"\n[[part"), 8, 1, "not a complete header", "[[part]]" },
        { WithSection("chords = \"Dm\"\nname = \"a\\qb\""), 8, 11, "backslash", "\\\\" },
        { WithSection("chords = \"Dm\"\nname = \"a\nkey = \"D\""), 8, 8, "no closing \"", "end it with \"" },
        { WithSection("chords = \"Dm\"\nchords = \"C\""), 8, 1, "already set in line 7", "keep one" },
        { Top + "seed = 99999999999999999999\n[[section]]\nchords = \"Dm\"\n", 6, 8, "too large", "smaller" },
        { WithSection("chords = \"Dm\"\nname = \"x\\"), 8, 8, "no closing \"", "end it with \"" },
        { WithSection("chords = \"Dm\"\nname = " + new string('[', 300)), 8, 8, "not complete", "brackets" },
    };

    [Theory]
    [MemberData(nameof(Broken))]
    public void ReadText_OneMistake_IsToldOnceWithPlaceAndRemedy(string text, int line, int column, string what, string accepted)
    {
        var result = ChartReader.ReadText(text, "chart.toml");

        Assert.False(result.IsChart);
        Assert.True(result.Problems.Count == 1, string.Join('\n', result.Problems));
        var problem = result.Problems[0];
        Assert.Contains(what, problem.What, StringComparison.Ordinal);
        Assert.Contains(accepted, problem.Accepted, StringComparison.Ordinal);
        Assert.True((line, column) == (problem.Line, problem.Column), problem.ToString());
        Assert.Equal($"chart.toml:{line}:{column}: {problem.What}; {problem.Accepted}", problem.ToString());
    }

    [Fact]
    public void ReadText_ManyMistakes_AreAllToldInOrder()
    {
        var problems = Problems("""
            format = 1
            titel = "X"
            key = "H"
            tempo = 120
            meter = "5/8 3+2"
            [[part]]
            role = "puls"
            [[section]]
            chords = \"\"\"
            | Am | G G G | % | Hm |
            | [2/4] C |
            \"\"\"
            tempo = "fast"
            [section.tune]
            notes = "| Q4:1 | G4:9 |"
            [[section]]
            chords = | Am |
            """.Replace("\\\"", "\"", StringComparison.Ordinal));

        // The tune's: H7 is not a pitch, a bar of nine, and two bars for five.
        Assert.Equal([2, 3, 4, 7, 10, 10, 13, 15, 15, 15, 17], problems.Select(problem => problem.Line));
    }

    /// <summary>Charts with several mistakes, none caused by another, with a part of each problem.</summary>
    public static TheoryData<string, string[]> Several => new()
    {
        // A wrong tie hides problems neither of range nor at the end.
        { WithTune(2, "notes = \"| D4:3~ E4:2 | C9:3 C1:2~ |\""), ["leads here from D4", "C9 is outside", "tied to nothing", "C1 is outside"] },

        // Bars and pickup of a wrong length do not hide ties, and the tune's bars do not hide its words.
        {
            WithTune(2, "pickup = \"A3:29\"\nnotes = \"| D4:3~ E4:2 | D4:6 |\""),
            ["the pickup is 29 units", "leads here from D4", "bar 2 of the tune is 6 units"]
        },
        {
            WithTune(4, "notes = \"| D4:5 | D4:5 | C4:5 |\"\nwords = [\"one two three four five\", \"a | b | c\", \"a b | c\"]"),
            ["the tune has 3 bars", "no note left for 'four'", "bar 1 has 1 note but 2 syllables"]
        },

        // Each bar is counted separately.
        {
            WithTune(4, "notes = \"| D4:3 E4:2 | D4:5 | D4:3 E4:2 | D4:5 |\"\nwords = [\"a | b | c d e | f g\"]"),
            ["bar 1 has 2 notes but 1 syllable", "bar 3 has 2 notes but 3 syllables", "no note left for 'g'"]
        },

        // A wrong join or meter does not hide an impossible tempo.
        { WithSection("chords = \"Dm\"\njoin = \"eighth\"\ntempo = \"eighth = 20000\""), ["not a join", "2500 whole notes per minute"] },
        { WithSection("meter = \"7-8\"\nchords = \"Dm\"\ntempo = \"eighth = 20000\""), ["'7-8' is not a meter", "2500 whole notes"] },
        { WithSection("chords = \"Hm\"").Replace("eighth = 260", "bar = 90000", StringComparison.Ordinal), ["whole notes per", "'Hm'"] },

        // A meter that cannot be read hides problems neither of its grouping nor of the number of bars.
        {
            WithSection("bars = 1\nchords = \"| Dm | C |\"").Replace("5/8 3+2", "7-8\"\ngrouping = \"3+x", StringComparison.Ordinal),
            ["'7-8' is not a meter", "'3+x' is not a grouping", "1 bar, but its chords fill 2"]
        },
        {
            WithSection("chords = \"| [3-4] C | F |\"\ntempo = \"to eighth = 300 over 9 bars\"\n[section.tune]\nnotes = \"| D4:5 |\""),
            ["'3-4' is not a meter", "the ramp takes 9 bars", "the tune has 1 bar"]
        },

        // A chord that cannot be read does not hide the tune's bars; nor does a note in a bar hide another.
        { WithSection("chords = \"| Hm | % Xm |\"\n[section.tune]\nnotes = \"| D4:4 | H4:5 |\""), ["'Hm'", "% repeats", "'Xm'", "bar 1 of the tune", "'H4'"] },
        { WithTune(1, "notes = \"| x:2 ()D4:2 E4:1 |\""), ["'x' is not a pitch", "no grace note"] },

        // A part's role and instrument do not hide its other keys.
        {
            Top + "[[part]]\nrole = \"drums\"\ninstrument = \"kazoo\"\nregister = \"G2-A2\"\nlevel = 20\npan = 200\n[[section]]\nchords = \"Dm\"\n",
            ["'drums' is not a role", "no instrument called 'kazoo'", "less than an octave", "level must", "pan must"]
        },
    };

    [Theory]
    [MemberData(nameof(Several))]
    public void ReadText_SeveralMistakes_NoneHidesAnother(string text, string[] what)
    {
        var problems = Problems(text);

        Assert.True(what.Length == problems.Count, string.Join('\n', problems));
        Assert.All(what.Zip(problems), pair => Assert.Contains(pair.First, pair.Second.What, StringComparison.Ordinal));
    }

    /// <summary>Charts with one mistake that makes other things look wrong.</summary>
    public static TheoryData<string> Followed => new()
    {
        // A missing bar line, and an extra one.
        WithTune(3, "notes = \"| D4:3 E4:2 D4:5 | E4:5 |\""),

        // Missing notes that have syllables.
        WithTune(2, "notes = \"| D4:3 | E4:5 |\"\nwords = [\"a b | c\", \"a b c\"]"),

        // A tie into bars that are not written yet.
        WithTune(2, "notes = \"| D4:5~ |\""),

        // Ties from and to unreadable notes.
        WithTune(1, "notes = \"| D4:3~ x:2 |\"\nwords = [\"a b\"]"),

        // A bar line in the wrong place in the words.
        WithTune(2, "notes = \"| D4:3 E4:2 | F4:5 |\"\nwords = [\"la la la | \"]"),
    };

    [Theory]
    [MemberData(nameof(Followed))]
    public void ReadText_WhatFollowsFromAMistake_IsNotTold(string text)
    {
        var problems = Problems(text);

        Assert.True(problems.Count == 1, string.Join('\n', problems));
    }

    [Fact]
    public void ReadText_UnusualInstruments_AreRemarkedUponAndRead()
    {
        var result = ChartReader.ReadText(
            Top + "[[part]]\nrole = \"sustain\"\ninstrument = \"banjo\"\n[[part]]\nrole = \"tune\"\n[[section]]\nchords = \"Dm\"\n", "chart.toml");

        Assert.True(result.IsChart);
        var remark = result.Remarks.Single();
        Assert.Equal((8, 15), (remark.Line, remark.Column));
        Assert.Contains("banjo is unusual in the role sustain", remark.What, StringComparison.Ordinal);
        Assert.Contains("cello, viola, fiddle and concertina", remark.Accepted, StringComparison.Ordinal);
    }

    [Fact]
    public void ReadText_BrokenHeader_DoesNotTellWhatFollowsFromIt()
    {
        var problems = Problems(Top + "form = [\"verse\"]\n[[section]\nname = \"verse\"\nchords = \"Hm\"\n");

        Assert.Equal([7], problems.Select(problem => problem.Line));
    }

    [Fact]
    public void ReadText_WordsAndSharpsOutsideLatin_CountAsOneColumn()
    {
        var problems = Problems(WithSection("name = \"𝄞é\" # 𝄞\nchords = \"| D♭ | 𝄞 |\""));

        Assert.Equal((8, 18), (problems.Single().Line, problems.Single().Column));
    }

    [Fact]
    public void ReadBytes_NotUtf8_NamesTheByte()
    {
        var problem = ChartReader.ReadBytes([.. Encoding.UTF8.GetBytes("a = 1\nbé"), 0xE9, 0x20], "chart.toml").Problems.Single();

        Assert.Equal((2, 3), (problem.Line, problem.Column));
        Assert.Contains("0xE9", problem.What, StringComparison.Ordinal);
        Assert.Contains("UTF-8", problem.Accepted, StringComparison.Ordinal);
    }

    // Once a bug: "the byte 0x80 is not UTF-8 text".
    [Theory]
    [InlineData("MThd\0\0\0\u0006", "this is a MIDI file, not a text file")]
    [InlineData("RIFF\0\0\0\0sfbk", "this is a SoundFont bank, not a text file")]
    [InlineData("RIFF\0\0\0\0WAVE", "this is a WAV file, not a text file")]
    [InlineData("PK\u0003\u0004", "this is a compressed file, not a text file")]
    [InlineData("OggS", "this is a sound file, not a text file")]
    [InlineData("%PDF-1.7", "this is a PDF file, not a text file")]
    public void ReadBytes_FileOfAnotherKind_NamesTheKind(string start, string says)
    {
        var problem = ChartReader.ReadBytes([.. Encoding.UTF8.GetBytes(start), 0xE9, 0x20], "song.mid").Problems.Single();

        Assert.Equal((1, 1, says), (problem.Line, problem.Column, problem.What));
        Assert.Contains("a chart (.toml)", problem.Accepted, StringComparison.Ordinal);
    }

    [Fact]
    public void ReadBytes_TooLarge_SaysHowToWriteLess()
    {
        var problem = ChartReader.ReadBytes(new byte[ChartReader.LargestFile + 1], "chart.toml").Problems.Single();

        Assert.Contains("1 MB", problem.What, StringComparison.Ordinal);
        Assert.Contains("repeat", problem.Accepted, StringComparison.Ordinal);
    }

    [Fact]
    public void ReadText_AFileOfAnotherKind_TellsNoMoreThanCanBeRead()
    {
        var page = string.Concat(Enumerable.Range(0, 5000).Select(i => $"<p class=\"x{i}\">Some = words</p>\n"));

        Assert.InRange(Problems(page).Count, 1, 200);
    }
}
