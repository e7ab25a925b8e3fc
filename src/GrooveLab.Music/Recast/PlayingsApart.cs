using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.Recast;

/// <summary>Makes one playing of a section, such as its third verse, a section of its own, so that it can be treated apart. Form, tune and words stay the same.</summary>
public static class PlayingsApart
{
    /// <summary>The section and the playing that a name such as "verse 3" means; null if there is a section of that name, or no such playing.</summary>
    /// <param name="chart">The chart.</param>
    /// <param name="name">The name.</param>
    public static (int Section, int Playing)? Meant(Chart chart, string name)
    {
        var gap = name.LastIndexOf(' ');
        if (gap <= 0 || chart.Sections.Any(section => IsNamed(section, name)) || !int.TryParse(name[(gap + 1)..], NumberStyles.None, CultureInfo.InvariantCulture, out var playing))
        {
            return null;
        }

        var index = chart.Sections.ToList().FindIndex(section => IsNamed(section, name[..gap].Trim()));
        return index >= 0 && playing >= 1 && playing <= PlayingsOf(chart, index) ? (index, playing) : null;
    }

    /// <summary>The chart with a playing as a section of its own, after the section it was.</summary>
    /// <param name="chart">The chart.</param>
    /// <param name="section">The index of the section.</param>
    /// <param name="playing">The playing in the form, from 1.</param>
    /// <returns>The chart, and the name of the new section; the chart as it was if the section is played once.</returns>
    public static (Chart Chart, string Name) Divided(Chart chart, int section, int playing)
    {
        var was = chart.Sections[section];
        var count = PlayingsOf(chart, section);
        if (count == 1)
        {
            return (chart, was.Name);
        }

        var steps = chart.Form.SelectMany(step => Enumerable.Repeat(step with { Times = 1 }, step.Times)).ToList();
        var number = 0;
        var (ending, rank) = (0, 0);
        var taken = new Dictionary<int, int>();
        for (var i = 0; i < steps.Count; i++)
        {
            if (steps[i].Section == section)
            {
                number++;
                int? own = was.Endings.Count == 0 ? null : steps[i].Ending ?? Math.Min(number, was.Endings.Count);
                if (number == playing)
                {
                    (ending, rank) = (own ?? 0, taken.GetValueOrDefault(own ?? 0));
                }

                taken[own ?? 0] = taken.GetValueOrDefault(own ?? 0) + 1;
                steps[i] = steps[i] with { Section = number == playing ? section + 1 : section, Ending = number == playing ? null : own };
            }
            else if (steps[i].Section > section)
            {
                steps[i] = steps[i] with { Section = steps[i].Section + 1 };
            }
        }

        var name = string.Create(CultureInfo.InvariantCulture, $"{was.Name} {playing}");
        var (apart, rest) = (Playings(chart.Times, count, one => one == playing), Playings(chart.Times, count, one => one != playing));
        // Beyond the times of the form a band may go on: orders reach as far as they say something.
        var passes = Math.Max(chart.Times, ((was.Orders?.Longest ?? 0) / count) + 2);
        var (asked, others) = (Playings(passes, count, one => one == playing), Playings(passes, count, one => one != playing));
        var whole = ending == 0 ? was : was.WithEnding(ending, rank);
        var made = whole with { Name = name, Endings = [], Orders = whole.Orders?.Of(asked), Tune = whole.Tune is { } tune ? Sung(tune, apart) : null };
        var left = was with
        {
            Orders = was.Orders?.Of(others),
            Tune = was.Tune is { } other ? Sung(other, rest) : null,
            Endings = ending == 0 ? was.Endings
                : [.. was.Endings.Select((one, i) => i != ending - 1 || one.Tune is not { } sung || sung.Verses.Count < 2 ? one
                    : one with { Tune = Sung(sung, [.. Enumerable.Range(0, sung.Verses.Count).Where(verse => verse != rank % sung.Verses.Count)]) })],
        };
        var result = chart with
        {
            Sections = [.. chart.Sections.Take(section), left, made, .. chart.Sections.Skip(section + 1)],
            Form = Joined(steps),
            Tag = [.. chart.Tag.Select(step => step.Section > section ? step with { Section = step.Section + 1 } : step)],
        };
        return (result, name);
    }

    private static bool IsNamed(Section section, string name) => string.Equals(section.Name, name, StringComparison.OrdinalIgnoreCase);

    private static int PlayingsOf(Chart chart, int section) => chart.Form.Where(step => step.Section == section).Sum(step => step.Times);

    // The playings in all passes of the form, from 0, of those that are chosen in each pass.
    private static List<int> Playings(int times, int count, Func<int, bool> isChosen) =>
        [.. Enumerable.Range(0, times * count).Where(playing => isChosen((playing % count) + 1))];

    private static List<FormStep> Joined(List<FormStep> steps)
    {
        var joined = new List<FormStep>();
        foreach (var step in steps)
        {
            if (joined.Count > 0 && joined[^1] with { Times = 1 } == step && step.Ending is null)
            {
                joined[^1] = joined[^1] with { Times = joined[^1].Times + 1 };
            }
            else
            {
                joined.Add(step);
            }
        }

        return joined;
    }

    // The tune with the verses of some playings, in their order, and no more of them than return.
    private static Tune Sung(Tune tune, IReadOnlyList<int> playings) =>
        new(new WrittenMusic(tune.Written.Measures, [.. tune.Written.Parts.Select(part => Sung(part, playings))])
        {
            Headings = tune.Written.Headings,
            Annotations = tune.Written.Annotations,
            Origin = tune.Written.Origin,
        });

    private static WrittenPart Sung(WrittenPart part, IReadOnlyList<int> playings)
    {
        if (part.Verses.Count == 0)
        {
            return part;
        }

        var verses = playings.Select(playing => playing % part.Verses.Count).ToList();
        var period = Enumerable.Range(1, verses.Count).First(length => verses.Select((verse, i) => verse == verses[i % length]).All(same => same));
        var numbers = verses.Take(period).Select((verse, i) => (Old: part.Verses[verse], New: (i + 1).ToString(CultureInfo.InvariantCulture))).ToList();
        return part with
        {
            Verses = [.. numbers.Select(number => number.New)],
            Measures =
            [
                .. part.Measures.Select(measure => measure with
                {
                    Voices =
                    [
                        .. measure.Voices.Select(voice => voice with
                        {
                            Events =
                            [
                                .. voice.Events.Select(one => one.Lyrics.Count == 0 ? one : one with
                                {
                                    Lyrics = [.. numbers.SelectMany(number => one.Lyrics.Where(lyric => lyric.Number == number.Old).Select(lyric => lyric with { Number = number.New }))],
                                }),
                            ],
                        }),
                    ],
                }),
            ],
        };
    }
}
