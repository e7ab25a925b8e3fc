using GrooveLab.Audio.Failures;
using Xunit;

namespace GrooveLab.Audio.Tests;

public sealed class FailureLogTests
{
    private readonly FailureLog _log = new();

    [Fact]
    public void Add_SamePlaceWithOtherNumbers_IsOneKindWithItsFirstWordsAndACount()
    {
        for (var i = 0; i < 5; i++)
        {
            _log.Add("composing a bar", Thrown(i));
        }

        var failure = Assert.Single(_log.All);
        Assert.Equal(("InvalidOperationException", "bar 0 is wrong", 5), (failure.Kind, failure.Message, failure.Count));
        Assert.Equal("GrooveLab.Audio.Tests.FailureLogTests.Thrown", failure.Place);
        Assert.Contains("at GrooveLab.Audio.Tests.FailureLogTests.Thrown", failure.Details, StringComparison.Ordinal);
        Assert.Equal("composing a bar: bar 0 is wrong (5 times)", failure.ToString());
        Assert.Equal(5, _log.Total);
    }

    [Fact]
    public void Add_OtherDeedOrKind_IsAnotherFailure()
    {
        _log.Add("composing a bar", Thrown(1));
        _log.Add("keeping changes", Thrown(1));
        _log.Add("keeping changes", new IOException("disk full"));
        _log.Add("keeping changes", new IOException("no such folder"));
        _log.Add("keeping changes", "too many at once");

        Assert.Equal(5, _log.All.Count);
        Assert.Equal("keeping changes: disk full", _log.All[2].ToString());
    }

    [Fact]
    public void Settle_ADeed_ItsFailuresAreOverUntilItFailsAgain()
    {
        _log.Add("keeping changes", Thrown(1));
        _log.Add("keeping changes", "disk full");
        _log.Add("composing a bar", Thrown(1));

        _log.Settle("keeping changes");

        Assert.Equal([true, true, false], _log.All.Select(failure => failure.IsOver));
        Assert.Equal(3, _log.Total);
        _log.Add("keeping changes", "disk full");
        Assert.Equal([true, false, false], _log.All.Select(failure => failure.IsOver));
        Assert.Equal(2, _log.All[1].Count);
    }

    [Fact]
    public void Add_WithoutEnd_KeepsABoundedNumberAndCountsAll()
    {
        for (var i = 0; i < 10_000; i++)
        {
            _log.Add($"deed {i}", new IOException(new string('x', 10_000)));
        }

        Assert.Equal(32, _log.All.Count);
        Assert.Equal(10_000, _log.Total);
        Assert.Equal(10_000, _log.All.Sum(failure => failure.Count));
        Assert.All(_log.All, failure => Assert.InRange(failure.Message.Length + failure.Details.Length, 1, 5000));
    }

    [Fact]
    public void Add_ExceptionThatCannotDescribeItself_IsNamedByItsType()
    {
        _log.Add("asking", new Speechless());

        var failure = Assert.Single(_log.All);
        Assert.Equal("asking: Speechless", failure.ToString());
    }

    [Fact]
    public void Add_MessageOfManyLines_IsOneLine()
    {
        _log.Add("reading", new IOException("first\nsecond\tthird"));

        Assert.Equal("reading: first second third", Assert.Single(_log.All).ToString());
    }

    [Fact]
    public void Add_FromManyThreads_CountsEach()
    {
        Parallel.For(0, 8, _ =>
        {
            for (var i = 0; i < 1000; i++)
            {
                _log.Add("deed", "failed");
            }
        });

        Assert.Equal(8000, Assert.Single(_log.All).Count);
    }

    private static InvalidOperationException Thrown(int bar)
    {
        try
        {
            throw new InvalidOperationException($"bar {bar} is wrong");
        }
        catch (InvalidOperationException thrown)
        {
            return thrown;
        }
    }

    private sealed class Speechless : Exception
    {
        public override string Message => throw new NotSupportedException();
    }
}
