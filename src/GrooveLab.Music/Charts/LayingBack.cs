using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>Notes and syllables that are written to be sung late.</summary>
internal static class LayingBack
{
    // Common practice, no source.
    private const int LongestMilliseconds = 250;

    /// <summary>The longest written delay that is played: 250 ms, rounded down to 960ths of a whole note, so that lengths stay readable fractions.</summary>
    /// <param name="tempo">The tempo at the note.</param>
    public static Span Longest(Tempo tempo) => Span.Of((tempo.WholesPerMinute * LongestMilliseconds / 60_000 * 960).Floor(), 960);

    /// <summary>The tune with syllables of its melody sung late, and with marks on its notes; all else stays.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="delays">The delay of a syllable by its verse, from 0, and the note on which it begins.</param>
    /// <param name="marks">Marks by the note that gets them, after its own.</param>
    public static Tune LaidBack(this Tune tune, IReadOnlyDictionary<(int Verse, int Note), Span> delays, ILookup<int, Mark> marks)
    {
        if (delays.Count == 0 && marks.Count == 0)
        {
            return tune;
        }

        var written = tune.Written;
        var part = written.Parts[0];
        var changes = new Dictionary<(int Measure, int Voice, int Event), Func<VoiceEvent, VoiceEvent>>();
        foreach (var (note, sounding) in TuneVoice.Sounding(written, 0).Index())
        {
            var late = Enumerable.Range(0, part.Verses.Count).Where(verse => delays.ContainsKey((verse, note))).ToDictionary(verse => part.Verses[verse], verse => delays[(verse, note)]);
            if (late.Count > 0 || marks.Contains(note))
            {
                var source = sounding.Sources[0];
                changes.Add((source.Measure, source.Voice, source.Event), one => one with
                {
                    Marks = [.. one.Marks, .. marks[note]],
                    Lyrics = [.. one.Lyrics.Select(lyric => lyric.Number is { } number && late.TryGetValue(number, out var delay) ? lyric with { Late = delay } : lyric)],
                });
            }
        }

        var changed = part with
        {
            Measures =
            [
                .. part.Measures.Select((measure, m) => measure with
                {
                    Voices =
                    [
                        .. measure.Voices.Select((voice, v) => voice with
                        {
                            Events = [.. voice.Events.Select((one, e) => changes.TryGetValue((m, v, e), out var change) ? change(one) : one)],
                        }),
                    ],
                }),
            ],
        };
        return new Tune(new WrittenMusic(written.Measures, [changed, .. written.Parts.Skip(1)])
        {
            Headings = written.Headings,
            Annotations = written.Annotations,
            Origin = written.Origin,
        });
    }
}
