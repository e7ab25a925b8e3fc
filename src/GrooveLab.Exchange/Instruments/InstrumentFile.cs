using System.Diagnostics.CodeAnalysis;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Instruments;

/// <summary>Reads from a file the instruments that a chart can name: the built-in ones and a user's own.</summary>
public sealed class InstrumentFile
{
    private static readonly HashSet<string> ManyTables = new(StringComparer.Ordinal) { "instrument" };

    private static readonly string[] Keys =
    [
        "name", "also", "technique", "range", "strings", "frets", "short-drone", "hand-limit-ms", "stretch", "low-interval", "voices", "program", "damped-program", "clefs", "written-c-sounds", "registers", "suits",
    ];

    private static readonly string[] Needed = ["name", "technique", "range", "program"];

    // Half steps up or down between written and sounding pitch.
    private const int MostTransposition = 24;

    private readonly List<CatalogueEntry> _entries = [];

    private InstrumentFile()
    {
    }

    /// <summary>The built-in catalogue.</summary>
    public static InstrumentCatalogue BuiltIn { get; } = Read(Resource.Text("instruments.toml"), "instruments.toml");

    /// <summary>The name of an instrument file in a chart's folder.</summary>
    public const string FileName = "instruments.toml";

    /// <summary>The instruments that a chart can name: the built-in ones, and those of the file <see cref="FileName"/> in the chart's
    /// folder, if it exists; the latter win when names are equal.</summary>
    /// <param name="chart">The chart's path.</param>
    /// <exception cref="FormatException">The file has problems; the message lists all, one per line.</exception>
    /// <exception cref="IOException">It cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">Access is denied.</exception>
    public static InstrumentCatalogue Beside(string chart)
    {
        var file = Path.Combine(Path.GetDirectoryName(chart) ?? string.Empty, FileName);
        if (!File.Exists(file))
        {
            return BuiltIn;
        }

        var problem = TextFile.Read(file, out var text);
        return text is null ? throw new FormatException(problem!.ToString()) : BuiltIn.With(Read(text.TrimStart('\uFEFF'), file));
    }

    /// <summary>Reads a catalogue.</summary>
    /// <param name="text">The file's text.</param>
    /// <param name="name">The file's name, for messages.</param>
    /// <exception cref="FormatException">The text has problems; the message lists all, one per line.</exception>
    public static InstrumentCatalogue Read(string text, string name)
    {
        var source = new SourceText(text);
        var problems = new Problems(source, name) { Headers = "[[instrument]]" };
        var instruments = new InstrumentFile();
        if (TomlTreeReader.Read(source, problems, ManyTables) is { } root
            && root.Find("instrument")?.Value is TomlList { OfTables: true } list)
        {
            foreach (var table in list.Items.OfType<TomlTable>())
            {
                instruments.Add(table, problems);
            }
        }

        return problems.Count == 0 ? new InstrumentCatalogue(instruments._entries) : throw new FormatException(string.Join('\n', problems.Sorted()));
    }

    /// <summary>Reads "D3-A5".</summary>
    internal static bool TryRange(string text, out Pitch lowest, out Pitch highest)
    {
        lowest = default;
        highest = default;
        var at = text.AsSpan().IndexOfAny('-', '–');
        return at > 0
            && Pitch.TryParse(text[..at].Trim(), out lowest)
            && Pitch.TryParse(text[(at + 1)..].Trim(), out highest)
            && lowest.Midi is >= 0 and <= 127
            && highest.Midi is >= 0 and <= 127;
    }

    private void Add(TomlTable table, Problems problems)
    {
        var keys = new TableKeys(table, problems);
        keys.TellUnknown("an instrument", Keys, _ => null);
        var name = keys.Text("name", "write name = \"fiddle\"")?.Value.Trim();
        var technique = keys.Choice(
            "technique",
            ("fingers", Technique.Fingers),
            ("plectrum", Technique.Plectrum),
            ("hammers", Technique.Hammers),
            ("bow", Technique.Bow),
            ("reed", Technique.Reed),
            ("breath", Technique.Breath),
            ("click", Technique.Click));
        var program = keys.Integer("program", 0, 127);
        var range = Range(keys.Text("range", "write range = \"G3-B5\""), problems);
        if (name is null || technique is null || program is null || range is null)
        {
            // Wrong values have been reported.
            string[] missing = [.. Needed.Where(key => !keys.Has(key))];
            if (missing.Length > 0)
            {
                problems.Add(table.Start, $"this instrument has no {Words.And(missing)}", "every instrument has name, technique, range and program");
            }

            return;
        }

        if (new InstrumentCatalogue(_entries).TryFind(name, out _))
        {
            problems.Add(table.Start, $"two instruments are named {name}", "name them differently");
            return;
        }

        var registers = new Dictionary<Role, (int Lowest, int Highest)>();
        foreach (var entry in (keys.Entry("registers")?.Value as TomlTable)?.Entries ?? [])
        {
            if (Roles.TryParse(entry.Key, out var role) && Range(entry.Value as TomlString, problems) is { } register)
            {
                registers[role] = register;
            }
            else
            {
                problems.Add(entry.KeyStart, $"{Words.Quote(entry.Key)} is not a register of a role", "write pulse = \"G2-A4\"");
            }
        }

        var instrument = new Instrument
        {
            Name = name,
            Technique = technique.Value,
            Lowest = range.Value.Lowest,
            Highest = range.Value.Highest,
            Strings = Strings(keys, problems),
            Frets = keys.Integer("frets", 0, 40) ?? 15,
            ShortDrone = keys.Flag("short-drone") ?? false,
            HandLimitMs = keys.Integer("hand-limit-ms", 40, 400) ?? 85,
            Stretch = keys.Integer("stretch", 1, 12) ?? 5,
            LowIntervalLimit = LowInterval(keys, problems),
            Voices = keys.Integer("voices", 1, 16) ?? 4,
            Program = program.Value,
            DampedProgram = keys.Integer("damped-program", 0, 127),
            Clefs = Clefs(keys, problems),
            WrittenC = WrittenC(keys, problems),
        };
        _entries.Add(new CatalogueEntry(instrument, registers, Others(keys, problems), Suits(keys, problems)));
    }

    private static (int Lowest, int Highest)? Range(TomlString? text, Problems problems)
    {
        if (text is null)
        {
            return null;
        }

        if (TryRange(text.Value, out var lowest, out var highest) && lowest < highest)
        {
            return (lowest.Midi, highest.Midi);
        }

        problems.Add(text.Start, $"{Words.Quote(text.Value)} is not a range", "write the lowest and the highest pitch: \"G3-B5\"");
        return null;
    }

    private static int LowInterval(TableKeys keys, Problems problems)
    {
        const string accepted = "write low-interval = \"C3\"";
        if (keys.Text("low-interval", accepted) is not { } text)
        {
            return Voicings.LowIntervalLimit;
        }

        if (Pitch.TryParse(text.Value, out var pitch) && pitch.Midi is >= 0 and <= 127)
        {
            return pitch.Midi;
        }

        problems.Add(text.Start, $"{Words.Quote(text.Value)} is not a pitch", accepted);
        return Voicings.LowIntervalLimit;
    }

    private static List<StaffClef> Clefs(TableKeys keys, Problems problems)
    {
        var clefs = new List<StaffClef>();
        if (keys.Entry("clefs")?.Value is not { } value)
        {
            return clefs;
        }

        var items = value is TomlList list ? list.Items : [value];
        foreach (var item in items)
        {
            if (item is TomlString text && StaffClef.TryParse(text.Value, out var clef))
            {
                clefs.Add(clef);
            }
            else
            {
                problems.Add(item.Start, item is TomlString wrong ? $"{Words.Quote(wrong.Value)} is not a clef" : "a clef must be a text in quotes", $"clefs: {Words.Or(StaffClef.Names)}");
            }
        }

        if (items.Count is 0 or > 2)
        {
            problems.Add(value.Start, "an instrument is written on one or two staves", "write clefs = [\"treble\"] or clefs = [\"treble\", \"bass\"]");
        }

        return clefs;
    }

    private static Pitch WrittenC(TableKeys keys, Problems problems)
    {
        const string accepted = "write written-c-sounds = \"Bb3\"";
        var plain = new Pitch(new PitchName(NoteLetter.C), 4);
        if (keys.Text("written-c-sounds", accepted) is not { } text)
        {
            return plain;
        }

        if (Pitch.TryParse(text.Value, out var pitch) && Math.Abs(pitch.Midi - plain.Midi) <= MostTransposition && Math.Abs(pitch.Name.Accidental) <= 1)
        {
            return pitch;
        }

        problems.Add(text.Start, $"{Words.Quote(text.Value)} is not a pitch within two octaves of C4", accepted);
        return plain;
    }

    private static List<string> Others(TableKeys keys, Problems problems)
    {
        var names = new List<string>();
        foreach (var item in (keys.Entry("also")?.Value as TomlList)?.Items ?? [])
        {
            if (item is TomlString text)
            {
                names.Add(text.Value);
            }
            else
            {
                problems.Add(item.Start, "another name must be a text in quotes", "write also = [\"violin\"]");
            }
        }

        return names;
    }

    private static List<int> Strings(TableKeys keys, Problems problems)
    {
        var strings = new List<int>();
        foreach (var item in (keys.Entry("strings")?.Value as TomlList)?.Items ?? [])
        {
            if (item is TomlString text && Pitch.TryParse(text.Value, out var pitch))
            {
                strings.Add(pitch.Midi);
            }
            else
            {
                problems.Add(item.Start, "a string must be a pitch in quotes", "write strings = [\"G2\", \"D3\"]");
            }
        }

        return strings;
    }

    // Null if not in the file: then it suits all roles.
    private static List<Role>? Suits(TableKeys keys, Problems problems)
    {
        if (keys.Entry("suits")?.Value is not TomlList list)
        {
            return null;
        }

        var roles = new List<Role>();
        foreach (var item in list.Items)
        {
            if (item is TomlString text && Roles.TryParse(text.Value, out var role))
            {
                roles.Add(role);
            }
            else
            {
                problems.Add(item.Start, "suits must list roles", "write suits = [\"pulse\", \"roll\"]");
            }
        }

        return roles;
    }
}
