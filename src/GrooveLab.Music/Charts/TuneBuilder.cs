using System.Globalization;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>Builds the written music of a tune, line by line.</summary>
/// <param name="bars">The length of each bar of the section.</param>
public sealed class TuneBuilder(IReadOnlyList<Span> bars)
{
    private readonly List<(string Name, TuneMeasures Music, IReadOnlyList<IReadOnlyList<Syllable?>> Verses)> _lines = [];

    /// <summary>Adds a line; the first is the melody.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="music">Its written music, with the pickup separate.</param>
    /// <param name="verses">Its verses; each has a syllable or null for each note, tied notes counted once.</param>
    /// <returns>The builder itself.</returns>
    public TuneBuilder Add(string name, TuneMeasures music, IReadOnlyList<IReadOnlyList<Syllable?>> verses)
    {
        _lines.Add((name, music, verses));
        return this;
    }

    /// <summary>The tune.</summary>
    /// <exception cref="ArgumentException">No line was added.</exception>
    public Tune Made()
    {
        var pickup = _lines.Select(line => LengthOf(line.Music.Pickup)).DefaultIfEmpty(Span.Zero).Aggregate(Span.Max);
        var count = _lines.Select(line => line.Music.Bars.Count).Append(bars.Count).Max();
        var measures = new List<Measure>();
        if (pickup > Span.Zero)
        {
            measures.Add(new Measure("0") { IsUncounted = true, ActualLength = pickup });
        }

        for (var i = 0; i < count; i++)
        {
            var length = i < bars.Count ? bars[i] : _lines.Max(line => i < line.Music.Bars.Count ? LengthOf(line.Music.Bars[i]) : Span.Zero);
            measures.Add(new Measure((i + 1).ToString(CultureInfo.InvariantCulture)) { ActualLength = length });
        }

        var parts = _lines.Select((line, index) => new WrittenPart(
            index == 0 ? "tune" : string.Create(CultureInfo.InvariantCulture, $"line {index}"), [.. PartOf(line.Music, pickup, count)])
        {
            Name = line.Name,
            Verses = [.. Enumerable.Range(1, line.Verses.Count).Select(number => number.ToString(CultureInfo.InvariantCulture))],
        }).ToList();
        var music = new WrittenMusic([.. measures], [.. parts]);
        for (var i = 0; i < parts.Count; i++)
        {
            parts[i] = Sung(music, i, _lines[i].Verses);
        }

        return new Tune(new WrittenMusic(music.Measures, [.. parts]));
    }

    /// <summary>Writes plain notes into measures: ties over bar lines, rests in gaps.</summary>
    /// <param name="notes">The notes, in order of onset, no overlaps; notes before the first bar line have negative onsets.</param>
    /// <param name="bars">The length of each bar. Notes after the last bar go into one more measure.</param>
    public static TuneMeasures Measures(IReadOnlyList<TuneNote> notes, IReadOnlyList<Span> bars)
    {
        var next = 0;
        var begins = notes.Count > 0 ? Span.Min(notes[0].Onset, Span.Zero) : Span.Zero;
        var pickup = begins < Span.Zero ? Stretch(notes, begins, Span.Zero, isBar: false, ref next) : PartMeasure.Empty;
        var made = new List<PartMeasure>();
        var at = Span.Zero;
        foreach (var bar in bars)
        {
            made.Add(Stretch(notes, at, at + bar, isBar: true, ref next));
            at += bar;
        }

        if (next < notes.Count && notes.Skip(next).Max(note => note.Onset + note.Length) is var end && end > at)
        {
            made.Add(Stretch(notes, at, end, isBar: false, ref next));
        }

        return new TuneMeasures(pickup, made);
    }

    internal static Span LengthOf(PartMeasure measure) => measure.Voices.Count == 0 ? Span.Zero : measure.Voices.Max(voice => voice.Length);

    private static PartMeasure Stretch(IReadOnlyList<TuneNote> notes, Span from, Span to, bool isBar, ref int next)
    {
        var events = new List<VoiceEvent>();
        var at = from;
        while (at < to)
        {
            var note = next < notes.Count ? notes[next] : null;
            if (note is null || note.Onset > at)
            {
                var until = note is null ? to : Span.Min(note.Onset, to);
                var whole = isBar && at == from && until == to;
                events.Add(Rest(until - at, whole));
                at = until;
                continue;
            }

            var end = Span.Min(note.Onset + note.Length, to);
            var begins = note.Onset >= from;
            var goesOn = note.Onset + note.Length > to;
            var head = WrittenNote.Of(note.Pitch) with { TiedFrom = begins ? null : new TieEnd(), TiedTo = goesOn ? new TieEnd() : null };
            events.AddRange(begins ? note.Graces.Select(grace => Grace(grace)) : []);
            events.Add(Note(head, end - at) with { Marks = begins ? note.Marks : [], Late = begins ? note.Late : Span.Zero });
            next += goesOn ? 0 : 1;
            at = end;
        }

        return new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])] };
    }

    /// <summary>A note of a length, with a written value if the length has one.</summary>
    internal static NotesEvent Note(WrittenNote head, Span length) =>
        WrittenValue.TryFrom(length, out var value) ? new NotesEvent([head], value) : new NotesEvent([head], null, length);

    /// <summary>A grace note of a chart, which has no written value.</summary>
    public static NotesEvent Grace(Harmony.Pitch pitch) => NotesEvent.OfGrace([WrittenNote.Of(pitch)], new Grace(), null);

    private static RestEvent Rest(Span length, bool isWholeMeasure) => isWholeMeasure
        ? new RestEvent(null, length) { IsWholeMeasure = true }
        : WrittenValue.TryFrom(length, out var value) ? new RestEvent(value) : new RestEvent(null, length);

    private static IEnumerable<PartMeasure> PartOf(TuneMeasures music, Span pickup, int count)
    {
        if (pickup > Span.Zero)
        {
            // A shorter pickup starts later.
            var missing = pickup - LengthOf(music.Pickup);
            yield return missing == Span.Zero ? music.Pickup
                : music.Pickup.Voices.Count == 0 ? music.Pickup
                : music.Pickup with
                {
                    Voices = [music.Pickup.Voices[0] with { Events = [new GapEvent(missing), .. music.Pickup.Voices[0].Events] }],
                    Marks = [.. music.Pickup.Marks.Select(mark => mark with { At = mark.At + missing })],
                };
        }

        for (var i = 0; i < count; i++)
        {
            yield return i < music.Bars.Count ? music.Bars[i] : PartMeasure.Empty;
        }
    }

    private static WrittenPart Sung(WrittenMusic music, int index, IReadOnlyList<IReadOnlyList<Syllable?>> verses)
    {
        var part = music.Parts[index];
        if (verses.Count == 0)
        {
            return part;
        }

        var lyrics = new Dictionary<(int Measure, int Event), List<Lyric>>();
        var notes = SoundingNotes.OfPart(music, index);
        for (var verse = 0; verse < verses.Count; verse++)
        {
            for (var i = 0; i < Math.Min(verses[verse].Count, notes.Count); i++)
            {
                if (verses[verse][i] is { } syllable)
                {
                    Put(i, syllable.Written(part.Verses[verse]));
                    for (var held = 1; held < syllable.Notes && i + held < notes.Count; held++)
                    {
                        var extender = held == syllable.Notes - 1 ? Extender.Stop : Extender.Continue;
                        Put(i + held, new Lyric { Number = part.Verses[verse], Extender = extender });
                    }
                }
            }
        }

        return part with
        {
            Measures =
            [
                .. part.Measures.Select((measure, m) => measure with
                {
                    Voices =
                    [
                        .. measure.Voices.Select(voice => voice with
                        {
                            Events =
                            [
                                .. voice.Events.Select((one, e) => lyrics.TryGetValue((m, e), out var sung) ? one with { Lyrics = [.. sung] } : one),
                            ],
                        }),
                    ],
                }),
            ],
        };

        void Put(int note, Lyric lyric)
        {
            var place = (notes[note].Sources[0].Measure, notes[note].Sources[0].Event);
            lyrics.TryAdd(place, []);
            lyrics[place].Add(lyric);
        }
    }
}

/// <summary>A line of a tune bar by bar.</summary>
/// <param name="Pickup">The music before the first bar line; empty without a pickup.</param>
/// <param name="Bars">The music of each bar.</param>
public sealed record TuneMeasures(PartMeasure Pickup, IReadOnlyList<PartMeasure> Bars);
