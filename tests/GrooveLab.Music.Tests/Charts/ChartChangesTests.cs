using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Charts;

public sealed class ChartChangesTests
{
    private static readonly Chart Ramped = Sheet.Chart(
        Sheet.Section("A", Sheet.Bars("5/8 3+2", "Am")),
        Sheet.Section("B", Sheet.Bars("5/8 3+2", "Am")) with { Tempo = new TempoChange(Sheet.Of(1, 8, 200), Sheet.Of(1, 8, 270), 1) });

    [Fact]
    public void AtPace_Factor_ScalesEveryTempo()
    {
        var chart = Ramped.AtPace(new Rational(10, 7));
        Assert.Equal([new Rational(2400, 7), new Rational(2000, 7), new Rational(2700, 7)], Figures(chart));
    }

    [Fact]
    public void AtPace_ToBeRead_RoundsOnlyWhatNoReaderWants()
    {
        var chart = Ramped.AtPace(new Rational(10_007, 30_011), largestDenominator: 1000);
        Assert.Equal([new Rational(80_027, 1000), new Rational(66_689, 1000), new Rational(9003, 100)], Figures(chart));
        Assert.Equal([80, new Rational(200, 3), 90], Figures(Ramped.AtPace(new Rational(1, 3), largestDenominator: 1000)));
    }

    [Fact]
    public void AtPace_One_IsTheChartItself() => Assert.Same(Ramped, Ramped.AtPace(Rational.One, largestDenominator: 1));

    // Once a bug: the section's key moved to fewer accidentals, and its chords and tune did not.
    [Theory]
    [InlineData("E major", "Gb major", "Gb7(b9) Cb/Fb", "Gb4 Fb5", "Bb major", "C major", "C7(b9) F/Bb", "C5 Bb5")]
    [InlineData("E major", "Gb major", "Gb7(b9) Cb/Fb", "Gb4 Fb5", "Gb major", "Ab major", "Ab7(b9) Db/Gb", "Ab4 Gb5")]
    [InlineData("E minor", "Eb major", "Eb Ab", "Eb4 Bb4", "F minor", "E major", "E A", "E4 B4")]
    public void Transposed_SectionKeyThatMovesToFewerAccidentals_MovesChordsTuneAndEndingWithIt(
        string from, string key, string chords, string notes, string to, string newKey, string newChords, string newNotes)
    {
        var chart = Chart(Key.Parse(from), Key.Parse(key), chords.Split(' '), [.. notes.Split(' ').Select(Pitch.Parse)]);

        var moved = chart.Transposed(chart.Key.To(Key.Parse(to)));

        var section = moved.Sections[0];
        Assert.Equal(newKey, section.Key!.ToString());
        Assert.Equal(newChords, string.Join(' ', section.Bars.Select(bar => bar.Chords[0].Symbol.Text)));
        Assert.Equal(newNotes, string.Join(' ', section.Tune!.Notes.Select(note => note.Pitch)));
        Assert.Equal(newNotes, string.Join(' ', section.Tune.Lines[0].Notes.Select(note => note.Pitch)));
        Assert.Equal(newChords.Split(' ')[0], moved.EndingChord!.Text);
    }

    [Fact]
    public void Transposed_AnyKeysAndAnySectionKey_KeepsTheDegreeOfEveryDiatonicNote()
    {
        var keys = Enum.GetValues<KeyMode>()
            .SelectMany(mode => Enumerable.Range(-20, 41).Select(fifths => $"{PitchName.FromFifths(fifths)} {mode}"))
            .Select(text => Key.TryParse(text, out var key, out _) ? key : null).OfType<Key>().ToList();
        Assert.Equal(9 * 15, keys.Count);
        var majors = keys.Where(key => key.Mode == KeyMode.Major).ToList();
        var random = new Random(1);
        foreach (var from in majors)
        {
            foreach (var interval in majors.Select(from.To).Concat([from.IntervalUp(13), from.IntervalUp(-14)]).Distinct())
            {
                foreach (var own in keys)
                {
                    var degrees = Enumerable.Range(0, 5).Select(_ => random.Next(7)).ToList();
                    var pitches = degrees.ConvertAll(degree => Pitch.AtMidi(own.Scale[degree], OctaveOf(own.Scale[degree])));
                    var chart = Chart(from, own, degrees.Select(degree => $"{own.Scale[degree]}m/{own.Scale[6 - degree]}"), pitches);

                    var moved = chart.Transposed(interval);

                    var (section, scale) = (moved.Sections[0], moved.Sections[0].Key!.Scale);
                    Assert.Equal(own.Mode, section.Key!.Mode);
                    Assert.Equal(degrees.ConvertAll(degree => scale[degree]), section.Tune!.Notes.Select(note => note.Pitch.Name));
                    Assert.Equal(degrees.ConvertAll(degree => scale[degree]), section.Tune.Lines[0].Notes.Select(note => note.Pitch.Name));
                    Assert.Equal(pitches.ConvertAll(pitch => pitch.Midi + interval.Semitones), section.Tune.Notes.Select(note => note.Pitch.Midi));
                    Assert.Equal(
                        degrees.ConvertAll(degree => ChordSymbol.Parse($"{scale[degree]}m/{scale[6 - degree]}")),
                        section.Bars.Select(bar => bar.Chords[0].Symbol));
                    Assert.Equal(section.Bars[0].Chords[0].Symbol, moved.EndingChord);
                }
            }
        }

        int OctaveOf(PitchName name) => 60 + ((name.PitchClass + 12) % 12) + (12 * random.Next(2));
    }

    // One section of one bar per chord and note, with a second line and an ending chord.
    private static Chart Chart(Key key, Key own, IEnumerable<string> chords, IReadOnlyList<Pitch> notes)
    {
        var bars = Sheet.Bars("4/4", [.. chords]);
        var line = TuneBuilder.Measures(
            [.. notes.Select((pitch, i) => new TuneNote(Span.Of(i, 1), Span.Of(1, 1), pitch, []))], [.. bars.Select(bar => bar.Meter.Length)]);
        var tune = new TuneBuilder([.. bars.Select(bar => bar.Meter.Length)]).Add("tune", line, []).Add("second", line, []).Made();
        return Sheet.Chart(Sheet.Section("A", bars) with { Key = own, Tune = tune }) with { Key = key, EndingChord = bars[0].Chords[0].Symbol };
    }

    private static Rational[] Figures(Chart chart)
    {
        var change = chart.Sections[1].Tempo!;
        return [chart.Tempo.PerMinute, change.From!.Value.PerMinute, change.To!.Value.PerMinute];
    }
}
