using System.Globalization;
using System.Text.RegularExpressions;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads the form: the order of sections.</summary>
/// <param name="sections">The sections.</param>
/// <param name="format">The format of the chart.</param>
/// <param name="damaged">True when a section may exist that could not be read.</param>
/// <param name="problems">Receives the problems.</param>
internal sealed partial class FormReader(IReadOnlyList<ReadSection> sections, bool damaged, int format, Problems problems)
{
    private const string Accepted = "write form = [\"verse\", \"refrain x2\", \"verse\"] with the names of sections";
    private const string AcceptedTag = "write tag = [\"last line x2\"] with the names of sections";
    private const int MostSteps = 2000;
    private const int LongestName = 200;
    private readonly string[] _names = [.. sections.Select(section => section.Name)];
    private readonly int[] _repeats = [.. sections.Select(section => section.Repeat)];

    /// <summary>The steps of the form; null if there was a problem, which is then reported.</summary>
    public IReadOnlyList<FormStep>? Read(TableKeys keys) =>
        Read(keys, "form", Accepted) is not { } steps ? null
        : steps.Count > 0 ? steps
        : sections.Count == 0 ? null
        : [.. sections.Select((section, index) => new FormStep(index, section.Repeat))];

    /// <summary>The steps of the tag, empty without one; null if there was a problem, which is then reported.</summary>
    public IReadOnlyList<FormStep>? ReadTag(TableKeys keys) => Read(keys, "tag", AcceptedTag);

    private List<FormStep>? Read(TableKeys keys, string key, string accepted)
    {
        var before = problems.Count;
        var steps = new List<FormStep>();
        var place = keys.Entry(key)?.Value.Start ?? 0;
        switch (keys.Entry(key)?.Value)
        {
            case null:
                break;
            case TomlString text:
                var at = 0;
                foreach (var word in text.Value.Split(','))
                {
                    Add(text.Slice(at, at + word.Length), steps, accepted);
                    at += word.Length + 1;
                }

                break;
            case TomlList { OfTables: false, Items.Count: > 0 and <= MostSteps } list:
                foreach (var item in list.Items)
                {
                    if (item is TomlString text)
                    {
                        Add(text, steps, accepted);
                    }
                    else
                    {
                        problems.Add(item.Start, $"section names in {key} must be in quotes", accepted);
                    }
                }

                break;
            case var other:
                problems.Add(other.Start, $"{key} must be a list of at most {MostSteps} names", accepted);
                break;
        }

        var bars = (steps.Count == 0 && key == "form" ? sections.Select((section, index) => new FormStep(index, section.Repeat)) : steps).Sum(step => (long)step.Times * (sections[step.Section].Timing?.Bars.Count ?? 0));
        if (bars > FormPlan.MostBars)
        {
            problems.Add(
                place,
                string.Create(CultureInfo.InvariantCulture, $"the {key} has {bars} bars; the maximum is {FormPlan.MostBars}"),
                "shorten it; times = 10 repeats the whole form and does not count");
        }

        return problems.Count == before ? steps : null;
    }

    /// <summary>A step as written, "verse x2"; null when no section has that name or the number is wrong.</summary>
    /// <param name="text">The step.</param>
    /// <param name="names">The names of the sections.</param>
    /// <param name="repeats">How often each is played per step.</param>
    internal static FormStep? Step(string text, IReadOnlyList<string> names, IReadOnlyList<int> repeats)
    {
        var name = text.Trim();
        int? times = null;
        int? ending = null;
        int? up = null;
        var index = IndexOf(name, names);
        while (index < 0 && name.Length < LongestName)
        {
            if (times is null && ending is null && up is null && Times().Match(name) is { Success: true } repeated)
            {
                (times, name) = (TimesOf(repeated) ?? 0, repeated.Groups["name"].Value);
            }
            else if (ending is null && up is null && EndingNumber().Match(name) is { Success: true } ended)
            {
                (ending, name) = (NumberOf(ended, "ending", 100) ?? 0, ended.Groups["name"].Value);
            }
            else if (up is null && Moved().Match(name) is { Success: true } moved)
            {
                (up, name) = (HalfSteps(moved) ?? 0, moved.Groups["name"].Value);
            }
            else
            {
                break;
            }

            index = IndexOf(name, names);
        }

        return index < 0 || times == 0 || ending == 0 || up == 0
            ? null
            : new FormStep(index, (times ?? 1) * repeats[index]) { Ending = ending, Up = up ?? 0 };
    }

    private static int? HalfSteps(Match match)
    {
        var isSize = Music.Harmony.HalfSteps.TryParse(match.Groups["size"].Value, out var steps) && steps is >= 1 and <= FormStep.MostUp;
        return !isSize ? null : match.Groups["way"].Value.StartsWith("u", StringComparison.OrdinalIgnoreCase) ? steps : -steps;
    }

    private static int? NumberOf(Match match, string group, int most) =>
        int.TryParse(match.Groups[group].ValueSpan, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number >= 1 && number <= most ? number : null;

    private void Add(TomlString text, List<FormStep> steps, string accepted)
    {
        var name = text.Value.Trim();
        if (Step(name, _names, _repeats) is { } step)
        {
            if (format == 1 && (step.Up != 0 || step.Ending is not null))
            {
                problems.Add(text.PlaceOf(0), "endings and moving up or down in the form belong to format 2", "write format = 2 as the first line");
            }

            CheckEnding(step, text);
            steps.Add(step);
            return;
        }

        if (name.Length < LongestName && Times().Match(name) is { Success: true } match)
        {
            if (TimesOf(match) is null)
            {
                problems.Add(text.PlaceOf(0), $"{Words.Quote(name)} needs a number of times from 1 to 1000", "write \"verse x2\"");
                return;
            }

            name = match.Groups["name"].Value;
        }

        if (name.Length < LongestName && EndingNumber().Match(name) is { Success: true } ended)
        {
            if (NumberOf(ended, "ending", 100) is null)
            {
                problems.Add(text.PlaceOf(0), $"{Words.Quote(name)} needs the number of an ending", "write \"verse ending 1\"");
                return;
            }

            name = ended.Groups["name"].Value;
        }

        if (name.Length < LongestName && Moved().Match(name) is { Success: true } moved)
        {
            if (HalfSteps(moved) is null)
            {
                problems.Add(text.PlaceOf(0), $"{Words.Quote(name)} needs a number of half steps from 1 to {FormStep.MostUp}", "write \"verse up 2\" or \"verse down 3\"");
                return;
            }

            name = moved.Groups["name"].Value;
        }

        if (name.Length == 0)
        {
            problems.Add(text.PlaceOf(0), "a name is empty", accepted);
        }
        else if (!damaged)
        {
            var near = Words.Nearest(name, sections.Select(section => section.Name));
            var known = $"sections: {Words.And([.. sections.Take(20).Select(section => Words.Quote(section.Name))])}";
            problems.Add(
                text.PlaceOf(0),
                $"no section called {Words.Quote(name)}",
                near is null ? known : $"did you mean {Words.Quote(near)}? {known}");
        }
    }

    private void CheckEnding(FormStep step, TomlString text)
    {
        var endings = sections[step.Section].Timing?.Endings.Count;
        if (step.Ending > endings)
        {
            problems.Add(
                text.PlaceOf(0),
                $"{Words.Quote(sections[step.Section].Name)} has {Words.Count(endings.Value, "ending")}",
                endings == 0 ? "leave out the ending, or write [[section.ending]] below that section" : $"write ending {endings} at most");
        }
    }

    private static int? TimesOf(Match match) =>
        int.TryParse(match.Groups["times"].ValueSpan, NumberStyles.None, CultureInfo.InvariantCulture, out var times) && times is >= 1 and <= 1000
            ? times
            : null;

    private static int IndexOf(string name, IReadOnlyList<string> names)
    {
        for (var i = 0; i < names.Count; i++)
        {
            if (string.Equals(names[i], name, StringComparison.OrdinalIgnoreCase))
            {
                return i;
            }
        }

        return -1;
    }

    [GeneratedRegex(@"^(?<name>.+?)\s+[x×]\s*(?<times>\d+)$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase, 1000)]
    private static partial Regex Times();

    [GeneratedRegex(@"^(?<name>.+?)\s+ending\s+(?<ending>\d+)$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase, 1000)]
    private static partial Regex EndingNumber();

    [GeneratedRegex(
        @"^(?<name>.+?)\s+(?<way>up|down)\s+(?<size>\d+|(a\s+)?(whole\s+)?tone|(a\s+)?(semitone|half\s+step|whole\s+step))$",
        RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture,
        1000)]
    private static partial Regex Moved();
}
