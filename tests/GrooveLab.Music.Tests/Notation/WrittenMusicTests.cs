using CsCheck;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Notation;

public sealed class WrittenMusicTests
{
    // Source: MusicXML 4.0, note-type-value; lengths are common practice.
    [Theory]
    [InlineData(NoteBase.Maxima, 0, 8, 1)]
    [InlineData(NoteBase.Long, 0, 4, 1)]
    [InlineData(NoteBase.Breve, 1, 3, 1)]
    [InlineData(NoteBase.Whole, 0, 1, 1)]
    [InlineData(NoteBase.Quarter, 1, 3, 8)]
    [InlineData(NoteBase.Quarter, 2, 7, 16)]
    [InlineData(NoteBase.Eighth, 3, 15, 64)]
    [InlineData(NoteBase.N1024, 0, 1, 1024)]
    [InlineData(NoteBase.N1024, 4, 31, 16384)]
    public void Length_BaseAndDots_IsExact(NoteBase noteBase, int dots, long above, long below) =>
        Assert.Equal(Span.Of(above, below), new WrittenValue(noteBase, dots).Length);

    [Fact]
    public void Length_NestedTuplets_MultiplyTheirRatios()
    {
        var value = new WrittenValue(new NoteUnit(NoteBase.Sixteenth), new Tuplet(1, 3, 2), new Tuplet(2, 5, 4));
        Assert.Equal(Span.Of(8, 15 * 16), value.Length);
    }

    [Fact]
    public void TryFrom_EveryValueOfUpToThreeDots_FindsItAgain()
    {
        for (var power = NoteBase.N1024; power <= NoteBase.Maxima; power++)
        {
            for (var dots = 0; dots <= 3; dots++)
            {
                var unit = new NoteUnit(power, dots);
                Assert.True(NoteUnit.TryFrom(unit.Length, out var found));
                Assert.Equal(unit, found);
            }
        }
    }

    [Theory]
    [InlineData("5/8")]
    [InlineData("1/3")]
    [InlineData("0/1")]
    [InlineData("16/1")]
    [InlineData("1/2048")]
    [InlineData("-1/4")]
    public void TryFrom_LengthWithoutAValue_FindsNone(string length) => Assert.False(NoteUnit.TryFrom(Scores.Length(length), out _));

    [Fact]
    public void Constructors_WhatCannotBeWritten_Throw()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => new NoteUnit((NoteBase)4));
        Assert.Throws<ArgumentOutOfRangeException>(() => new NoteUnit(NoteBase.Whole, 9));
        Assert.Throws<ArgumentOutOfRangeException>(() => new Tuplet(1, 0, 2));
        Assert.Throws<ArgumentOutOfRangeException>(() => new Tuplet(1, 3, 2) with { Normal = 0 });
        Assert.Throws<ArgumentException>(() => new WrittenValue(new NoteUnit(NoteBase.Whole), new Tuplet(1, 3, 2), new Tuplet(1, 3, 2)));
        Assert.Throws<ArgumentOutOfRangeException>(() => new SpelledPitch(NoteLetter.C, new Rational(9, 2), 4));
        Assert.Throws<ArgumentOutOfRangeException>(() => new SpelledPitch(NoteLetter.C, Rational.Zero, 13));
        Assert.Throws<ArgumentException>(() => new NotesEvent([], new WrittenValue(NoteBase.Whole)));
        Assert.Throws<ArgumentException>(() => new NotesEvent([WrittenNote.Unpitched()], null));
        Assert.Throws<ArgumentException>(() => new NotesEvent([WrittenNote.Unpitched()], null, Span.Zero));
        Assert.Throws<ArgumentException>(() => new RestEvent(null, Span.Zero));
        Assert.Throws<ArgumentException>(() => new GapEvent(Span.Zero));
        Assert.Throws<ArgumentOutOfRangeException>(() => new Lyric { Late = -Span.Of(1, 8) });
        Assert.Throws<ArgumentOutOfRangeException>(() => Scores.Note("C4 1/4") with { Late = -Span.Of(1, 8) });
        Assert.Throws<ArgumentOutOfRangeException>(() => new Mark(MarkKind.Accent) { Head = -1 });
        Assert.Throws<ArgumentException>(() => new MeterPair([], 4));
        Assert.Throws<ArgumentException>(() => new MeterPair([3, 0], 4));
        Assert.Throws<ArgumentOutOfRangeException>(() => new WrittenKey(15, null));
        Assert.Throws<ArgumentException>(() => new ChordMark(Span.Zero, []));
        Assert.Throws<ArgumentException>(() => new WrittenPart("", []));
        Assert.Throws<ArgumentException>(() => new WrittenMusic([new Measure("1")], [new WrittenPart("P1", [])]));
        Assert.Throws<ArgumentException>(() => new WrittenMusic([], [new WrittenPart("P1", []), new WrittenPart("P1", [])]));
        Assert.Throws<ArgumentNullException>(() => ValueList.Create<string>([null!]));
    }

    [Fact]
    public void Equals_SameContent_IsEqualAndHashesAlike()
    {
        var one = Scores.OneVoice([Scores.Grace("D4"), Scores.Note("C4 1/1")]);
        var other = Scores.OneVoice([Scores.Grace("D4"), Scores.Note("C4 1/1")]);
        Assert.Equal(one, other);
        Assert.Equal(one.GetHashCode(), other.GetHashCode());
        Assert.NotEqual(one, Scores.OneVoice([Scores.Grace("D4"), Scores.Note("C4 1/1~")]));
    }

    [Fact]
    public void Sound_Microtones_IsExact()
    {
        var pitch = new SpelledPitch(NoteLetter.F, new Rational(1, 2), 4);
        Assert.Equal(new Rational(131, 2), pitch.Sound);
        Assert.Null(pitch.Plain);
        Assert.Equal("F(1/2)4", pitch.ToString());
        Assert.Equal(Pitch.Parse("Ebb3"), SpelledPitch.Of(Pitch.Parse("Ebb3")).Plain);
    }

    [Fact]
    public void ToBarMeter_PairsAndSums_AreTheGrouping()
    {
        Assert.Equal("5/8 3+2", new WrittenMeter(new MeterPair([3, 2], 8)).ToBarMeter()!.ToString());
        Assert.Equal("5/8 3+2", new WrittenMeter(new MeterPair([3], 8), new MeterPair([1], 4)).ToBarMeter()!.ToString());
        Assert.Equal("4/4 2+2", Scores.FourFour.ToBarMeter()!.ToString());
        Assert.Null(new WrittenMeter().ToBarMeter());
        Assert.Null(new WrittenMeter(new MeterPair([65], 8)).ToBarMeter());
        Assert.Null(new WrittenMeter(new MeterPair([1], 128)).ToBarMeter());
    }

    [Fact]
    public void Of_AnyBarMeter_ComesBack()
    {
        foreach (var text in new[] { "5/8 3+2", "5/8 none", "4/4 2+2", "4/4 none", "9/8 3+3+3", "9/8 (2+2)+(2+3)", "7/12 2+2+3", "4/4 1+1+1+1" })
        {
            Assert.True(BarMeter.TryParse(text, out var meter, out _));
            Assert.Equal(meter, WrittenMeter.Of(meter).ToBarMeter());
            Assert.Equal(meter.Length, WrittenMeter.Of(meter).Length);
        }
    }

    [Fact]
    public void ToKey_EveryKey_ComesBack()
    {
        foreach (var mode in Enum.GetValues<KeyMode>())
        {
            for (var fifths = -7; fifths <= 7; fifths++)
            {
                var key = new WrittenKey(fifths, mode.ToString().ToLowerInvariant()).ToKey();
                Assert.Equal((fifths, mode), (key!.Fifths, key.Mode));
                Assert.Equal(key, WrittenKey.Of(key).ToKey());
            }
        }

        Assert.Null(new WrittenKey(2, null).ToKey());
        Assert.Null(new WrittenKey(2, "none").ToKey());
        Assert.Null(new WrittenKey(9, "major").ToKey());
        Assert.Null(new WrittenKey([]).ToKey());
    }

    [Fact]
    public void Tempo_MetronomeAndSound_AreExact()
    {
        var beat = new BeatUnit(new NoteUnit(NoteBase.Quarter, 1), []);
        Assert.Equal(Tempo.Of(Span.Of(3, 8), new Rational(145, 2)), new TempoSign(Span.Zero) { Metronomes = [new Metronome(beat) { PerMinute = "72.5" }] }.Tempo);
        Assert.Equal(Tempo.Of(Span.Of(1, 4), 90), new TempoSign(Span.Zero) { SoundQuarters = 90 }.Tempo);
        Assert.Null(new TempoSign(Span.Zero) { Metronomes = [new Metronome(beat) { PerMinute = "ca. 90" }] }.Tempo);
    }

    [Fact]
    public void LengthOf_PickupAndMeter_IsOwnLengthThenMeters()
    {
        var music = Scores.Of(
            [new Measure("0") { ActualLength = Span.Of(1, 4), Marks = [new MeterMark(Span.Zero, Scores.FourFour)] }, new Measure("1"), new Measure("2") { Marks = [new MeterMark(Span.Zero, new WrittenMeter())] }],
            [new PartMeasure(), new PartMeasure(), new PartMeasure()]);
        Assert.Equal([Span.Of(1, 4), Span.Of(1, 1), null], Enumerable.Range(0, 3).Select(music.LengthOf));
    }

    [Fact]
    public void Faults_ShortLongAndPickup_TellVoiceMeasureAndHowMuch()
    {
        var music = Scores.Of(
            [
                new Measure("0") { IsUncounted = true, ActualLength = Span.Of(1, 4), Marks = [new MeterMark(Span.Zero, Scores.FourFour)] },
                new Measure("1"),
                new Measure("2"),
            ],
            [
                new PartMeasure { Voices = [new VoiceMeasure("1", [Scores.Note("C4 1/4")])] },
                new PartMeasure { Voices = [new VoiceMeasure("1", [Scores.Note("C4 1/1")]), new VoiceMeasure("2", [Scores.Note("C4 3/4")])] },
                new PartMeasure { Voices = [new VoiceMeasure("1", [Scores.Note("C4 1/1"), Scores.Note("C4 1/8")])] },
            ]);
        Assert.Equal(
            ["measure 1, part P1, voice 2: 1/4 missing", "measure 2, part P1, voice 1: 1/8 too much"],
            VoiceCheck.Faults(music).Select(fault => fault.Describe(music)));
    }
}
