using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads meter, grouping and bar groups of a chart or section.</summary>
internal static class MeterText
{
    private const string Accepted =
        "write \"5/8\", \"5/8 3+2\", \"5/8 none\", or a list of alternating meters: [\"5/8 3+2\", \"7/8 2+2+3\"]";
    private const string AcceptedGrouping = "write \"3+2\", \"(3+2)+(2+2)\", or \"none\" for an undivided bar";
    private const int MostMeters = FormPlan.MostBars;

    /// <summary>The meters that repeat bar by bar, from the keys meter and grouping of a table; null when there is none usable.</summary>
    /// <param name="keys">The table.</param>
    /// <param name="inherited">The chart's meters, for a section; null for the chart itself or if it has none.</param>
    /// <param name="problems">Receives the problems.</param>
    /// <param name="wrong">True when a problem was reported, so that a missing meter is not reported too.</param>
    public static IReadOnlyList<BarMeter>? Read(TableKeys keys, IReadOnlyList<BarMeter>? inherited, Problems problems, out bool wrong)
    {
        var before = problems.Count;
        var meters = Meters(keys.Entry("meter")?.Value, inherited, problems, out var ownGrouping);
        var grouping = keys.Entry("grouping");
        wrong = problems.Count > before || problems.Full;
        if (grouping is null)
        {
            return wrong ? null : meters ?? inherited;
        }

        if (wrong)
        {
            CheckGrouping(keys, keys.Entry("meter")!.Value, ownGrouping, problems);
            return null;
        }

        var result = Grouped(keys, meters, inherited, ownGrouping, problems);
        wrong = result is null;
        return result;
    }

    /// <summary>A meter in a text; without a grouping it gets that of an earlier meter with the same time signature.</summary>
    public static BarMeter? Read(TomlString text, IEnumerable<BarMeter>? said, Problems problems, string accepted, out bool ownGrouping)
    {
        ownGrouping = MeterMark.HasGrouping(text.Value);
        if (MeterMark.Read(text.Value, said, accepted, out var problem) is { } meter)
        {
            return meter;
        }

        problems.Add(text.PlaceOf(0), problem!.Value.What, problem.Value.Accepted);
        return null;
    }

    /// <summary>How bars group; null if the key is missing or wrong, which is then reported.</summary>
    public static BarGroups? BarGroups(TableKeys keys, Problems problems)
    {
        const string accepted = "write bar-groups = 4, or a pattern: [4, 4, 2] or \"4+4+2\"; sizes are 1 to 64 bars";
        var sizes = new List<int>();
        var value = keys.Entry("bar-groups")?.Value;
        var well = value switch
        {
            TomlInteger number => Add(number.Value),
            TomlList { Items.Count: > 0 and <= 256 } list => list.Items.TrueForAll(item => item is TomlInteger size && Add(size.Value)),
            TomlString { Value.Length: < 1000 } text => text.Value.Split('+').All(size => int.TryParse(size, out var bars) && Add(bars)),
            _ => false,
        };
        if (well)
        {
            return new BarGroups(sizes);
        }

        if (value is not null)
        {
            problems.Add(value.Start, "bar-groups must say how many bars are felt as one", accepted);
        }

        return null;

        bool Add(long size)
        {
            sizes.Add((int)Math.Clamp(size, 0, 65));
            return size is >= 1 and <= 64;
        }
    }

    private static List<BarMeter>? Meters(TomlNode? value, IReadOnlyList<BarMeter>? inherited, Problems problems, out bool ownGrouping)
    {
        ownGrouping = false;
        switch (value)
        {
            case null:
                return null;
            case TomlString text:
                return Read(text, inherited, problems, Accepted, out ownGrouping) is { } one ? [one] : null;
            case TomlList { Items.Count: > 0 and <= MostMeters } list:
                var meters = new List<BarMeter>();
                foreach (var item in list.Items)
                {
                    if (item is not TomlString text)
                    {
                        problems.Add(item.Start, "a meter in a list must be a text in quotes", Accepted);
                    }
                    else if (Read(text, inherited, problems, Accepted, out var own) is { } meter)
                    {
                        meters.Add(meter);
                        ownGrouping |= own;
                    }
                }

                return meters.Count == list.Items.Count ? meters : null;
            default:
                problems.Add(value.Start, "meter must be a text in quotes or a list of them", Accepted);
                return null;
        }
    }

    // Problems of a grouping that do not depend on its meter.
    private static void CheckGrouping(TableKeys keys, TomlNode meter, bool ownGrouping, Problems problems)
    {
        if (keys.Text("grouping", AcceptedGrouping) is not { } text)
        {
            return;
        }

        if (meter is TomlList { Items.Count: > 1 })
        {
            TellManyMeters(text.Start, problems);
        }
        else if (ownGrouping)
        {
            problems.Add(text.Start, "two groupings: the meter already has one", "keep one of the two");
        }
        else if (!Grouping.TryParse(text.Value, 1, out _, out var problem) && !problem.Contains("adds up to", StringComparison.Ordinal))
        {
            var (what, accepted) = Words.Split(problem, "write sizes joined by +");
            problems.Add(text.PlaceOf(0), what, accepted);
        }
    }

    private static void TellManyMeters(int place, Problems problems) => problems.Add(
        place,
        "grouping cannot apply to meters that alternate",
        "write each grouping after its meter: meter = [\"5/8 3+2\", \"7/8 2+2+3\"]");

    private static BarMeter[]? Grouped(
        TableKeys keys, List<BarMeter>? meters, IReadOnlyList<BarMeter>? inherited, bool ownGrouping, Problems problems)
    {
        var place = keys.Entry("grouping")!.Value.Start;
        if (keys.Text("grouping", AcceptedGrouping) is not { } text)
        {
            return null;
        }

        var of = meters ?? inherited;
        if (of is null)
        {
            problems.Add(place, "grouping without a meter", "write the meter too, such as meter = \"5/8\"");
            return null;
        }

        if (of.Count > 1)
        {
            TellManyMeters(place, problems);
            return null;
        }

        if (ownGrouping)
        {
            problems.Add(place, $"two groupings: the meter already has {of[0].Grouping}", "keep one of the two");
            return null;
        }

        if (!Grouping.TryParse(text.Value, of[0].Units, out var grouping, out var problem))
        {
            var (what, accepted) = Words.Split(problem, "write sizes joined by +");
            problems.Add(text.PlaceOf(0), what, accepted);
            return null;
        }

        return [new BarMeter(of[0].Signature, grouping)];
    }
}
